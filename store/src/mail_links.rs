//! What stands in the links of reminders and at the foot of mails: sealed, for one purpose, and never
//! kept. Nothing is looked up here.

use domain::{
    ids::{ClubId, MemberId, ReminderId},
    mail::{Act, ActLink, MailKind, QuietLink},
};
use jiff::Timestamp;
use uuid::Uuid;

use crate::seals::Seals;

/// Purposes of seals: a link made for one opens nothing else.
const ACT: &str = "act";
const QUIET: &str = "quiet";

/// What stands in a link that answers a reminder.
#[must_use]
pub fn seal_act(seals: &Seals, club: ClubId, link: &ActLink) -> String {
    let content = [
        &club.0.into_bytes()[..],
        &link.reminder.0.into_bytes(),
        &link.expires_at.as_second().to_be_bytes(),
        link.act.as_str().as_bytes(),
    ];
    seals.seal(ACT, &content.concat())
}

/// The link that somebody followed, and whose club's it is; none, if it was not made here.
#[must_use]
pub fn open_act(seals: &Seals, token: &str) -> Option<(ClubId, ActLink)> {
    let content = seals.open(ACT, token)?;
    let (club, rest) = uuid(&content)?;
    let (reminder, rest) = uuid(rest)?;
    let (seconds, act) = rest.split_first_chunk::<8>()?;
    let link = ActLink {
        reminder: ReminderId(reminder),
        act: Act::parse(std::str::from_utf8(act).ok()?)?,
        expires_at: Timestamp::from_second(i64::from_be_bytes(*seconds)).ok()?,
    };
    Some((ClubId(club), link))
}

/// What stands in a link that stops a kind of mail.
#[must_use]
pub fn seal_quiet(seals: &Seals, club: ClubId, link: &QuietLink) -> String {
    let (club, member) = (club.0.into_bytes(), link.member.0.into_bytes());
    seals.seal(QUIET, &[&club[..], &member, link.kind.as_str().as_bytes()].concat())
}

/// The link that somebody followed, and whose club's it is; none, if it was not made here.
#[must_use]
pub fn open_quiet(seals: &Seals, token: &str) -> Option<(ClubId, QuietLink)> {
    let content = seals.open(QUIET, token)?;
    let (club, rest) = uuid(&content)?;
    let (member, kind) = uuid(rest)?;
    let kind = MailKind::parse(std::str::from_utf8(kind).ok()?)?;
    Some((ClubId(club), QuietLink { member: MemberId(member), kind }))
}

fn uuid(bytes: &[u8]) -> Option<(Uuid, &[u8])> {
    let (uuid, rest) = bytes.split_first_chunk::<16>()?;
    Some((Uuid::from_bytes(*uuid), rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_opens_to_what_it_was_made_of_and_to_nothing_else() {
        let (seals, club) = (Seals::new([3; 32], None), ClubId(Uuid::from_u128(1)));
        for &act in Act::ALL {
            let mailed_at = Timestamp::from_second(1_800_000_000).unwrap();
            let link = ActLink::new(ReminderId(Uuid::from_u128(2)), act, mailed_at);
            let token = seal_act(&seals, club, &link);
            assert_eq!(open_act(&seals, &token), Some((club, link)));
            assert_eq!(open_quiet(&seals, &token), None);
            assert_eq!(open_act(&Seals::new([4; 32], None), &token), None);
        }
        for &kind in MailKind::ALL {
            let link = QuietLink { member: MemberId(Uuid::from_u128(5)), kind };
            let token = seal_quiet(&seals, club, &link);
            assert_eq!(open_quiet(&seals, &token), Some((club, link)));
            assert_eq!(open_act(&seals, &token), None);
        }
    }
}
