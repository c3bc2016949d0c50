//! Who is told what of a bow: its archer and keeper all of it, the coaches of the archer's squads what
//! is urgent.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    bows::Bow,
    ids::{ClubId, MemberId},
    members::{Member, Role},
    rules::Condition,
};
use store::{Read, StoreError};

/// The people of a club, and who coaches whom.
pub(crate) struct Recipients {
    members: BTreeMap<MemberId, Member>,
    coaches: BTreeMap<MemberId, BTreeSet<MemberId>>,
}

impl Recipients {
    /// Of a club, as they are now.
    pub(crate) fn of(read: &mut Read<'_>, club: ClubId) -> Result<Self, StoreError> {
        let members = store::members::all(read, club)?.into_iter().map(|one| (one.id, one));
        Ok(Self { members: members.collect(), coaches: store::squads::coaches(read, club)? })
    }

    /// One of them.
    pub(crate) fn member(&self, id: MemberId) -> Option<&Member> {
        self.members.get(&id)
    }

    /// Who is told that work on a bow is due: its carers, and the coaches once it is overdue.
    pub(crate) fn of_work(&self, bow: &Bow, condition: Condition) -> BTreeSet<MemberId> {
        let mut people = self.carers(bow);
        if condition <= Condition::Overdue {
            people.extend(self.coaches_of(bow.archer));
        }
        people
    }

    /// Who is told that a bow must not be shot: its carers and the coaches; the owners, where no coach
    /// would hear of it.
    pub(crate) fn of_stop(&self, bow: &Bow) -> BTreeSet<MemberId> {
        let coaches = self.coaches_of(bow.archer);
        let others = if coaches.is_empty() { self.owners() } else { coaches };
        self.carers(bow).into_iter().chain(others).collect()
    }

    /// The coaches of somebody's squads.
    pub(crate) fn coaches_of(&self, archer: Option<MemberId>) -> BTreeSet<MemberId> {
        let coaches = archer.and_then(|archer| self.coaches.get(&archer));
        coaches.into_iter().flatten().copied().filter(|id| self.is_here(*id)).collect()
    }

    /// The owners of the club.
    pub(crate) fn owners(&self) -> BTreeSet<MemberId> {
        let owners = self.members.values().filter(|one| one.role == Role::Owner);
        owners.map(|owner| owner.id).filter(|id| self.is_here(*id)).collect()
    }

    /// Who looks after a bow, or the club's owners where it has nobody.
    fn carers(&self, bow: &Bow) -> BTreeSet<MemberId> {
        let here: BTreeSet<MemberId> =
            bow.carers().into_iter().filter(|id| self.is_here(*id)).collect();
        if here.is_empty() { self.owners() } else { here }
    }

    /// Whether somebody is still in the club.
    fn is_here(&self, id: MemberId) -> bool {
        self.members.get(&id).is_some_and(|member| member.left_at.is_none())
    }
}
