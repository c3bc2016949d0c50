//! Squads, and whose bows somebody may look after.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use domain::{
    ids::{ClubId, MemberId},
    members::Role,
    reach::Reach,
};

use crate::{Read, StoreError, schema::squad_members, sql_types::Key};

/// Whose bows a member of that role may look after.
pub fn reach(
    read: &mut Read<'_>,
    club: ClubId,
    member: MemberId,
    role: Role,
) -> Result<Reach, StoreError> {
    match role {
        Role::Owner => Ok(Reach::Everybody),
        Role::Archer => Ok(Reach::Own(member)),
        Role::Coach => {
            let mut people = coached_by(read, club, member)?;
            people.insert(member);
            Ok(Reach::Squads(people))
        }
    }
}

/// The archers of every squad that a member coaches.
pub fn coached_by(
    read: &mut Read<'_>,
    club: ClubId,
    coach: MemberId,
) -> Result<BTreeSet<MemberId>, StoreError> {
    let theirs = diesel::alias!(squad_members as theirs);
    let same_squad = theirs
        .field(squad_members::club_id)
        .eq(squad_members::club_id)
        .and(theirs.field(squad_members::squad_id).eq(squad_members::squad_id));
    let keys: Vec<Key> = squad_members::table
        .inner_join(theirs.on(same_squad))
        .filter(squad_members::club_id.eq(Key(club.0)).and(squad_members::part.eq("archer")))
        .filter(theirs.field(squad_members::member_id).eq(Key(coach.0)))
        .filter(theirs.field(squad_members::part).eq("coach"))
        .select(squad_members::member_id)
        .order(squad_members::member_id)
        .load(read.conn())?;
    Ok(keys.into_iter().map(|key| MemberId(key.0)).collect())
}

/// Who coaches each archer of a club.
pub fn coaches(
    read: &mut Read<'_>,
    club: ClubId,
) -> Result<BTreeMap<MemberId, BTreeSet<MemberId>>, StoreError> {
    let coaches = diesel::alias!(squad_members as coaches);
    let same_squad = coaches
        .field(squad_members::club_id)
        .eq(squad_members::club_id)
        .and(coaches.field(squad_members::squad_id).eq(squad_members::squad_id));
    let pairs: Vec<(Key, Key)> = squad_members::table
        .inner_join(coaches.on(same_squad))
        .filter(squad_members::club_id.eq(Key(club.0)).and(squad_members::part.eq("archer")))
        .filter(coaches.field(squad_members::part).eq("coach"))
        .select((squad_members::member_id, coaches.field(squad_members::member_id)))
        .order((squad_members::member_id, coaches.field(squad_members::member_id)))
        .load(read.conn())?;
    let mut found = BTreeMap::<MemberId, BTreeSet<MemberId>>::new();
    for (archer, coach) in pairs {
        found.entry(MemberId(archer.0)).or_default().insert(MemberId(coach.0));
    }
    Ok(found)
}
