//! Squads: archers under one or more coaches.

use std::collections::BTreeSet;

use jiff::Timestamp;

use crate::{
    ids::{MemberId, SquadId},
    members::Role,
    membership::People,
    reach::Reach,
    text::Name,
    words::words,
};

words! {
    /// What somebody does in a squad.
    pub enum SquadPart {
        /// Looks after its archers.
        Coach = "coach",
        /// Shoots in it.
        Archer = "archer",
    }
}

/// Why a squad was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SquadError {
    /// Nobody of the club, or not any more.
    #[error("must be a member of your club")]
    UnknownMember,
    /// An archer coaches nobody.
    #[error("must be a coach or an owner of the club")]
    NotACoach,
    /// More people than any squad has.
    #[error("must name at most {MOST_IN_SQUAD} people")]
    TooMany,
}

/// The most people that a squad has.
pub const MOST_IN_SQUAD: usize = 1_000;

/// A squad. A coach looks after the archers of their own squads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Squad {
    /// Which squad.
    pub id: SquadId,
    /// What it is called.
    pub name: Name,
    /// Who coaches it.
    pub coaches: BTreeSet<MemberId>,
    /// Who shoots in it.
    pub archers: BTreeSet<MemberId>,
    /// How often it was changed, and one more.
    pub version: i32,
    /// Since when it is on record.
    pub created_at: Timestamp,
}

impl Squad {
    /// What somebody sees of it: nothing, unless they coach it, shoot in it or own the club; and of its
    /// archers those whom they reach.
    #[must_use]
    pub fn seen_by(mut self, who: MemberId, reach: &Reach) -> Option<Self> {
        let theirs = self.coaches.contains(&who) || self.archers.contains(&who);
        self.archers.retain(|&archer| reach.member(archer));
        (theirs || *reach == Reach::Everybody).then_some(self)
    }

    /// Takes somebody in, as their role has it: archers shoot, coaches and owners coach.
    pub fn take_in(&mut self, member: MemberId, role: Role) {
        match role {
            Role::Archer => self.archers.insert(member),
            Role::Coach | Role::Owner => self.coaches.insert(member),
        };
    }
}

/// Whether somebody may take a new person of that role into the club, and into these squads: an owner
/// anybody, a coach an archer into squads of their own.
#[must_use]
pub fn may_take_in(by: MemberId, by_role: Role, role: Role, squads: &[Squad]) -> bool {
    let own = !squads.is_empty() && squads.iter().all(|squad| squad.coaches.contains(&by));
    match by_role {
        Role::Owner => true,
        Role::Coach => role == Role::Archer && own,
        Role::Archer => false,
    }
}

impl SquadPart {
    /// Passes somebody who can have this part in a squad.
    ///
    /// # Errors
    /// [`SquadError::UnknownMember`], [`SquadError::NotACoach`].
    pub fn check(self, people: &People, member: MemberId) -> Result<MemberId, SquadError> {
        let found = people.get(member).ok_or(SquadError::UnknownMember)?;
        match (self, found.role) {
            (Self::Coach, Role::Archer) => Err(SquadError::NotACoach),
            _ => Ok(member),
        }
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::members::{EmailAddress, Member};

    fn id(n: u128) -> MemberId {
        MemberId(Uuid::from_u128(n))
    }

    fn squad() -> Squad {
        Squad {
            id: SquadId(Uuid::from_u128(9)),
            name: Name::parse("Thursdays").unwrap(),
            coaches: BTreeSet::from([id(1)]),
            archers: BTreeSet::from([id(2), id(3)]),
            version: 1,
            created_at: Timestamp::UNIX_EPOCH,
        }
    }

    #[test]
    fn a_squad_is_seen_by_its_people_as_far_as_they_reach() {
        let archers = |who, reach| squad().seen_by(id(who), &reach).map(|squad| squad.archers);
        let all = BTreeSet::from([id(2), id(3)]);
        assert_eq!(archers(7, Reach::Everybody), Some(all.clone()));
        let coached = BTreeSet::from([id(1), id(2), id(3)]);
        assert_eq!(archers(1, Reach::Squads(coached.clone())), Some(all));
        assert_eq!(archers(2, Reach::Own(id(2))), Some(BTreeSet::from([id(2)])));
        assert_eq!(archers(4, Reach::Own(id(4))), None);
        assert_eq!(archers(5, Reach::Squads(coached)), None);
    }

    #[test]
    fn a_coach_takes_archers_into_their_own_squads() {
        let (own, other) = (squad(), Squad { coaches: BTreeSet::from([id(5)]), ..squad() });
        let check = |by, role, squads: &[Squad]| may_take_in(id(1), by, role, squads);
        assert!(check(Role::Owner, Role::Owner, &[]));
        assert!(check(Role::Coach, Role::Archer, std::slice::from_ref(&own)));
        assert!(!check(Role::Coach, Role::Archer, &[]));
        assert!(!check(Role::Coach, Role::Archer, &[own.clone(), other]));
        assert!(!check(Role::Coach, Role::Coach, std::slice::from_ref(&own)));
        assert!(!check(Role::Archer, Role::Archer, &[own]));
    }

    #[test]
    fn an_archer_coaches_nobody_and_anybody_may_shoot() {
        let email = EmailAddress::parse("m@club.example").unwrap();
        let member = |n, role| {
            let name = Name::parse("Invented").unwrap();
            Member::new(id(n), name, email.clone(), role, Timestamp::UNIX_EPOCH)
        };
        let people = People::of(vec![
            member(1, Role::Owner),
            member(2, Role::Coach),
            member(3, Role::Archer),
        ]);
        let check = |part: SquadPart, n| part.check(&people, id(n)).map(drop);
        assert_eq!([1, 2, 3].map(|n| check(SquadPart::Archer, n)), [Ok(()); 3]);
        let coaches = [1, 2, 3, 4].map(|n| check(SquadPart::Coach, n));
        let (no_coach, nobody) = (Err(SquadError::NotACoach), Err(SquadError::UnknownMember));
        assert_eq!(coaches, [Ok(()), Ok(()), no_coach, nobody]);
        let mut squad = squad();
        squad.take_in(id(7), Role::Archer);
        squad.take_in(id(8), Role::Owner);
        assert!(squad.archers.contains(&id(7)) && squad.coaches.contains(&id(8)));
    }
}
