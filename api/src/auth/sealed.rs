//! What stands in the seals that are handed out: which refresh token it is, or which link. It knows no
//! row and no route.

use domain::{
    ids::{ClubId, LinkId, SignInId},
    links::Purpose,
};
use store::seals::Seals;
use uuid::Uuid;

/// What refresh tokens are sealed for; no link has this purpose.
const REFRESH: &str = "refresh";

/// A generation of a device's sign-in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Refresh {
    pub(super) club: ClubId,
    pub(super) sign_in: SignInId,
    pub(super) generation: i32,
}

impl Refresh {
    pub(super) fn seal(self, seals: &Seals) -> String {
        let (club, sign_in) = (self.club.0.into_bytes(), self.sign_in.0.into_bytes());
        seals.seal(REFRESH, &[&club[..], &sign_in, &self.generation.to_be_bytes()].concat())
    }

    /// The generation that a seal is for, if it is one of ours.
    pub(super) fn open(seals: &Seals, sealed: &str) -> Option<Self> {
        let content = seals.open(REFRESH, sealed)?;
        let (ids, generation) = content.split_last_chunk()?;
        let (club, sign_in) = two_ids(ids)?;
        let generation = i32::from_be_bytes(*generation);
        Some(Self { club: ClubId(club), sign_in: SignInId(sign_in), generation })
    }
}

/// The link that a seal is for, if it is one of ours and made for this purpose.
pub(super) fn open_link(seals: &Seals, purpose: Purpose, sealed: &str) -> Option<(ClubId, LinkId)> {
    let (club, link) = two_ids(&seals.open(purpose.as_str(), sealed)?)?;
    Some((ClubId(club), LinkId(link)))
}

fn two_ids(bytes: &[u8]) -> Option<(Uuid, Uuid)> {
    let (first, second) = bytes.split_at_checked(16)?;
    Some((Uuid::from_slice(first).ok()?, Uuid::from_slice(second).ok()?))
}

#[cfg(test)]
mod tests {
    use domain::links::Link;
    use store::links::seal;

    use super::*;

    fn refresh() -> Refresh {
        let (club, sign_in) = (ClubId(Uuid::from_u128(1)), SignInId(Uuid::from_u128(2)));
        Refresh { club, sign_in, generation: 3 }
    }

    #[test]
    fn a_refresh_token_names_its_generation_and_is_no_link() {
        let seals = Seals::new([7; 32], None);
        let sealed = refresh().seal(&seals);
        assert_eq!(Refresh::open(&seals, &sealed), Some(refresh()));
        assert_eq!(Refresh::open(&Seals::new([8; 32], None), &sealed), None);
        for purpose in Purpose::ALL {
            assert_eq!(open_link(&seals, *purpose, &sealed), None);
        }
    }

    #[test]
    fn a_link_is_for_its_purpose_alone() {
        let seals = Seals::new([7; 32], None);
        let (club, id) = (ClubId(Uuid::from_u128(1)), LinkId(Uuid::from_u128(2)));
        for purpose in Purpose::ALL {
            let now = jiff::Timestamp::UNIX_EPOCH;
            let link = Link::new(id, Uuid::from_u128(3).into(), *purpose, now);
            let sealed = seal(&seals, club, &link);
            assert_eq!(Refresh::open(&seals, &sealed), None);
            for other in Purpose::ALL {
                let opened = open_link(&seals, *other, &sealed);
                assert_eq!(opened, (other == purpose).then_some((club, id)));
            }
        }
    }
}
