//! Whose bows somebody may look after.

use std::collections::BTreeSet;

use crate::{bows::Bow, ids::MemberId};

/// Whose bows somebody may see and work on: an owner every bow, a coach those of the archers in
/// their squads and the club's own that nobody shoots, an archer their own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reach {
    /// Every bow of the club.
    Everybody,
    /// The bows of these people, and the club's own that nobody shoots.
    Squads(BTreeSet<MemberId>),
    /// The bows that this one shoots, keeps or owns.
    Own(MemberId),
}

impl Reach {
    /// Whether a bow is within it.
    #[must_use]
    pub fn bow(&self, bow: &Bow) -> bool {
        let mut people = [bow.archer, bow.keeper, bow.owner].into_iter().flatten();
        match self {
            Self::Everybody => true,
            Self::Squads(members) => {
                let unclaimed = bow.archer.is_none() && bow.owner.is_none();
                unclaimed || people.any(|person| members.contains(&person))
            }
            Self::Own(member) => people.any(|person| person == *member),
        }
    }

    /// Whether it reaches a person.
    #[must_use]
    pub fn member(&self, member: MemberId) -> bool {
        match self {
            Self::Everybody => true,
            Self::Squads(members) => members.contains(&member),
            Self::Own(own) => *own == member,
        }
    }
}
