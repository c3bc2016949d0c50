//! Who is told what of a bow: its archer and keeper all of it, the coaches of the archer's squads what
//! is urgent.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    bows::Bow,
    ids::{BowId, ClubId, MemberId},
    members::Role,
    rules::Condition,
};
use store::{Read, StoreError};

/// Who is in a club as what, and who coaches whom. No name or address is read for it, so that a row
/// that cannot be keeps nobody else from their mail.
pub(crate) struct Recipients {
    roles: BTreeMap<MemberId, Role>,
    coaches: BTreeMap<MemberId, BTreeSet<MemberId>>,
    /// Who said of which bow that it is not theirs to look after.
    disowned: BTreeSet<(BowId, MemberId)>,
}

impl Recipients {
    /// Of a club, as they are now.
    pub(crate) fn of(read: &mut Read<'_>, club: ClubId) -> Result<Self, StoreError> {
        let roles = store::members::roles(read, club)?;
        let disowned = store::disowned_bows::of_club(read, club)?;
        Ok(Self { roles, coaches: store::squads::coaches(read, club)?, disowned })
    }

    /// Who is told that work on a bow is due: its carers, and the coaches once it is overdue. Nobody who
    /// said that the bow is not theirs to look after; the owners, where no carer is left, whatever they
    /// said of it: somebody has to hear of it.
    pub(crate) fn of_work(&self, bow: &Bow, condition: Condition) -> BTreeSet<MemberId> {
        let mut people = self.carers(bow);
        people.retain(|id| !self.disowns(bow, *id));
        if people.is_empty() {
            people = self.owners();
        }
        if condition <= Condition::Overdue {
            let coaches = self.coaches_of(bow.archer).into_iter();
            people.extend(coaches.filter(|id| !self.disowns(bow, *id)));
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

    /// Who is told, for all who go, what the bows need before an event: somebody's coaches; the owners,
    /// where nobody coaches them.
    pub(crate) fn of_going(&self, archer: MemberId) -> BTreeSet<MemberId> {
        let coaches = self.coaches_of(Some(archer));
        if coaches.is_empty() { self.owners() } else { coaches }
    }

    /// Who is told what the bench has to make for a bow: who keeps it, and the coaches; the owners, where
    /// nobody would hear of it.
    pub(crate) fn of_bench(&self, bow: &Bow) -> BTreeSet<MemberId> {
        let keeper =
            bow.keeper.filter(|keeper| self.is_here(*keeper) && !self.disowns(bow, *keeper));
        let people: BTreeSet<MemberId> =
            self.coaches_of(bow.archer).into_iter().chain(keeper).collect();
        if people.is_empty() { self.owners() } else { people }
    }

    /// The coaches of somebody's squads.
    pub(crate) fn coaches_of(&self, archer: Option<MemberId>) -> BTreeSet<MemberId> {
        let coaches = archer.and_then(|archer| self.coaches.get(&archer));
        coaches.into_iter().flatten().copied().filter(|id| self.is_here(*id)).collect()
    }

    /// The owners of the club.
    pub(crate) fn owners(&self) -> BTreeSet<MemberId> {
        let owners = self.roles.iter().filter(|(_, role)| **role == Role::Owner);
        owners.map(|(&owner, _)| owner).collect()
    }

    /// Who looks after a bow, or the club's owners where it has nobody.
    fn carers(&self, bow: &Bow) -> BTreeSet<MemberId> {
        let here: BTreeSet<MemberId> =
            bow.carers().into_iter().filter(|id| self.is_here(*id)).collect();
        if here.is_empty() { self.owners() } else { here }
    }

    /// Whether somebody said of a bow that it is not theirs to look after.
    fn disowns(&self, bow: &Bow, id: MemberId) -> bool {
        self.disowned.contains(&(bow.id, id))
    }

    /// Whether somebody is still in the club.
    fn is_here(&self, id: MemberId) -> bool {
        self.roles.contains_key(&id)
    }
}
