//! Joining a club, being changed in it, and leaving: what of that a club allows.
//!
//! It decides over the people as they are on record; who asks, and whether they may, is not known here.

use jiff::{SignedDuration, Span, Timestamp, civil::Date};

use crate::{
    ids::MemberId,
    members::{EmailAddress, Member, Role},
};

/// Why a change of a club's people was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum MembershipError {
    /// Two people of a club never share an address.
    #[error("somebody else signs in or is written to at this address")]
    AddressTaken,
    /// Two addresses of a club never look alike.
    #[error(
        "looks like somebody else's address (0 and o, 1 and l, rn and m are easily taken for one \
             another): mail for one of them would go to the other"
    )]
    AddressAlike,
    /// A club without an owner could not be looked after any more.
    #[error("is the last owner of the club: make somebody else an owner first")]
    LastOwner,
    /// They are not in the club any more.
    #[error("left the club; what they shot stays, and nothing of them is changed")]
    LeftAlready,
    /// They have chosen a password.
    #[error("has joined already, and signs in with a password of their own")]
    JoinedAlready,
    /// More invitations than anybody should find in their mail.
    #[error("was invited as often as anybody may be in a day")]
    InvitedTooOften {
        /// How long until the next one may go out.
        wait: SignedDuration,
    },
    /// Nobody is responsible for a minor.
    #[error("is missing: a minor needs a guardian")]
    GuardianMissing,
    /// Longer than anybody is a minor.
    #[error("must be at most {MINOR_YEARS} years from now")]
    MinorForTooLong,
    /// A consent that has not been given yet.
    #[error("lies in the future")]
    ConsentInFuture,
}

/// The most years that somebody may still be a minor.
pub const MINOR_YEARS: i16 = 30;
/// The most invitations that one person is sent in a day.
pub const INVITATIONS_A_DAY: usize = 3;
/// How long a day is, as far as invitations go.
pub const DAY: SignedDuration = SignedDuration::from_hours(24);

/// The people of a club who have not left.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct People(Vec<Member>);

impl People {
    /// Of everybody whom a club has on record, those who have not left.
    #[must_use]
    pub fn of(members: Vec<Member>) -> Self {
        Self(members.into_iter().filter(|member| member.left_at.is_none()).collect())
    }

    /// One of them.
    #[must_use]
    pub fn get(&self, member: MemberId) -> Option<&Member> {
        self.0.iter().find(|one| one.id == member)
    }

    /// Passes an address that nobody but this person has, and that looks like nobody else's unless it is
    /// on record as theirs already.
    ///
    /// # Errors
    /// [`MembershipError::AddressTaken`], [`MembershipError::AddressAlike`].
    pub fn check_address(
        &self,
        of: MemberId,
        address: &EmailAddress,
    ) -> Result<(), MembershipError> {
        let mut others = self.0.iter().filter(|one| one.id != of);
        if others.clone().any(|one| one.email == *address) {
            return Err(MembershipError::AddressTaken);
        }
        let theirs = self.get(of).is_some_and(|one| one.email == *address);
        if !theirs && others.any(|one| one.email.looks_like(address)) {
            return Err(MembershipError::AddressAlike);
        }
        Ok(())
    }

    /// Passes if the club still has an owner when this person has that role, or left where there is none.
    ///
    /// # Errors
    /// [`MembershipError::LastOwner`].
    pub fn check_owner_stays(
        &self,
        of: MemberId,
        role: Option<Role>,
    ) -> Result<(), MembershipError> {
        let owns = |one: &&Member| one.role == Role::Owner;
        let is_owner = self.get(of).as_ref().is_some_and(owns);
        let another = self.0.iter().filter(owns).any(|one| one.id != of);
        if is_owner && role != Some(Role::Owner) && !another {
            Err(MembershipError::LastOwner)
        } else {
            Ok(())
        }
    }
}

impl People {
    /// Passes one of them as they are to be after a change.
    ///
    /// # Errors
    /// A [`MembershipError`]: an address that somebody else has, a club without an owner, or a minor
    /// without a guardian.
    pub fn check_change(&self, after: &Member, today: Date) -> Result<(), MembershipError> {
        self.check_address(after.id, &after.email)?;
        self.check_owner_stays(after.id, Some(after.role))?;
        after.check_minor(today)
    }
}

impl Member {
    /// Passes what is on record of their age and guardian.
    ///
    /// # Errors
    /// [`MembershipError::GuardianMissing`], [`MembershipError::MinorForTooLong`],
    /// [`MembershipError::ConsentInFuture`].
    ///
    /// # Example
    /// ```
    /// use domain::{ids::MemberId, members::{EmailAddress, Member, Role}, membership::MembershipError, text::Name};
    /// use jiff::{Timestamp, civil::date};
    /// let id = MemberId(uuid::Uuid::nil());
    /// let (name, email) = (Name::parse("Ilse")?, EmailAddress::parse("ilse@club.example")?);
    /// let mut ilse = Member::new(id, name, email, Role::Archer, Timestamp::UNIX_EPOCH);
    /// ilse.minor_until = Some(date(2030, 5, 1));
    /// assert_eq!(ilse.check_minor(date(2030, 4, 30)), Err(MembershipError::GuardianMissing));
    /// assert_eq!(ilse.check_minor(date(2030, 5, 1)), Ok(()));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn check_minor(&self, today: Date) -> Result<(), MembershipError> {
        let latest = today.checked_add(Span::new().years(MINOR_YEARS)).unwrap_or(Date::MAX);
        if self.minor_until.is_some_and(|until| until > latest) {
            return Err(MembershipError::MinorForTooLong);
        }
        let minor = self.minor_until.is_some_and(|until| today < until);
        match &self.guardian {
            None if minor => Err(MembershipError::GuardianMissing),
            Some(guardian) if guardian.consented_on.is_some_and(|on| on > today) => {
                Err(MembershipError::ConsentInFuture)
            }
            _ => Ok(()),
        }
    }

    /// Passes who has not left.
    ///
    /// # Errors
    /// [`MembershipError::LeftAlready`].
    pub fn check_current(&self) -> Result<(), MembershipError> {
        if self.left_at.is_none() { Ok(()) } else { Err(MembershipError::LeftAlready) }
    }
}

/// Passes if somebody may be sent another invitation: they have not joined, and were not sent
/// [`INVITATIONS_A_DAY`] within the last day. `sent` are the times of those that they were sent.
///
/// # Errors
/// [`MembershipError::JoinedAlready`], [`MembershipError::InvitedTooOften`].
///
/// # Example
/// ```
/// use domain::membership::{MembershipError, check_invitation};
/// use jiff::{SignedDuration, Timestamp};
/// let at = |hours| Timestamp::UNIX_EPOCH + SignedDuration::from_hours(hours);
/// let wait = SignedDuration::from_hours(2);
/// let sent = [at(1), at(5), at(6)];
/// assert_eq!(check_invitation(false, &sent, at(23)), Err(MembershipError::InvitedTooOften { wait }));
/// assert_eq!(check_invitation(false, &sent, at(25)), Ok(()));
/// assert_eq!(check_invitation(true, &[], at(25)), Err(MembershipError::JoinedAlready));
/// ```
pub fn check_invitation(
    joined: bool,
    sent: &[Timestamp],
    now: Timestamp,
) -> Result<(), MembershipError> {
    if joined {
        return Err(MembershipError::JoinedAlready);
    }
    let mut ages: Vec<SignedDuration> =
        sent.iter().map(|&at| now.duration_since(at)).filter(|&age| age < DAY).collect();
    ages.sort_unstable();
    match ages.get(INVITATIONS_A_DAY - 1) {
        Some(&oldest) => Err(MembershipError::InvitedTooOften { wait: DAY - oldest }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;
    use uuid::Uuid;

    use super::*;
    use crate::{members::Guardian, text::Name};

    fn member(n: u128, role: Role) -> Member {
        let email = EmailAddress::parse(&format!("m{n}@club.example")).unwrap();
        let name = Name::parse("Invented").unwrap();
        Member::new(MemberId(Uuid::from_u128(n)), name, email, role, Timestamp::UNIX_EPOCH)
    }

    fn id(n: u128) -> MemberId {
        MemberId(Uuid::from_u128(n))
    }

    #[test]
    fn a_club_keeps_an_owner_who_has_not_left() {
        let gone = Member { left_at: Some(Timestamp::UNIX_EPOCH), ..member(3, Role::Owner) };
        let alone = People::of(vec![member(1, Role::Owner), member(2, Role::Coach), gone.clone()]);
        for role in [None, Some(Role::Coach), Some(Role::Archer)] {
            assert_eq!(alone.check_owner_stays(id(1), role), Err(MembershipError::LastOwner));
            assert_eq!(alone.check_owner_stays(id(2), role), Ok(()));
        }
        assert_eq!(alone.check_owner_stays(id(1), Some(Role::Owner)), Ok(()));
        let two = People::of(vec![member(1, Role::Owner), member(2, Role::Owner), gone]);
        assert_eq!(two.check_owner_stays(id(1), None), Ok(()));
    }

    #[test]
    fn an_address_is_one_persons_until_they_leave() {
        let gone = Member { left_at: Some(Timestamp::UNIX_EPOCH), ..member(2, Role::Archer) };
        let people = People::of(vec![member(1, Role::Owner), gone.clone()]);
        let first = member(1, Role::Owner).email;
        assert_eq!(people.check_address(id(1), &first), Ok(()));
        assert_eq!(people.check_address(id(9), &first), Err(MembershipError::AddressTaken));
        assert_eq!(people.check_address(id(9), &gone.email), Ok(()));
        let alike = EmailAddress::parse(&first.as_str().replace('1', "l")).unwrap();
        assert_ne!(alike, first);
        assert_eq!(people.check_address(id(9), &alike), Err(MembershipError::AddressAlike));
        let twins = [(1, first), (9, alike.clone())];
        let twins = twins.map(|(n, email)| Member { email, ..member(n, Role::Owner) });
        assert_eq!(People::of(twins.to_vec()).check_address(id(9), &alike), Ok(()));
        assert_eq!(people.get(id(2)), None);
        assert_eq!(gone.check_current(), Err(MembershipError::LeftAlready));
    }

    #[test]
    fn nobody_is_a_minor_for_more_than_thirty_years_or_has_a_consent_from_tomorrow() {
        let today = date(2027, 3, 1);
        let mut ilse = member(1, Role::Archer);
        let (name, email) = (ilse.name.clone(), ilse.email.clone());
        ilse.guardian = Some(Guardian { name, email, consented_on: Some(date(2027, 3, 2)) });
        assert_eq!(ilse.check_minor(today), Err(MembershipError::ConsentInFuture));
        assert_eq!(ilse.check_minor(date(2027, 3, 2)), Ok(()));
        ilse.guardian.as_mut().unwrap().consented_on = None;
        ilse.minor_until = Some(date(2057, 3, 1));
        assert_eq!(ilse.check_minor(today), Ok(()));
        ilse.minor_until = Some(date(2057, 3, 2));
        assert_eq!(ilse.check_minor(today), Err(MembershipError::MinorForTooLong));
    }
}
