//! Squads, and whose bows somebody may look after.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use domain::{
    ids::{ClubId, MemberId, SquadId},
    members::Role,
    reach::Reach,
    squads::{Squad, SquadPart},
    text::Name,
};
use jiff::Timestamp;

use crate::{
    Page, Read, StoreError, Tx,
    dialect::{self, on_each},
    error::changed_once,
    rules,
    schema::{squad_members, squads},
    sql_types::{Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = squads, treat_none_as_default_value = false)]
struct SquadRow {
    club_id: Key,
    id: Key,
    name: String,
    version: i32,
    created_at: Utc,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = squad_members, treat_none_as_default_value = false)]
struct SquadMemberRow {
    club_id: Key,
    squad_id: Key,
    member_id: Key,
    part: String,
}

/// Adds a squad. Its people must be members of the club.
pub fn add(tx: &mut Tx<'_>, club: ClubId, squad: &Squad) -> Result<(), StoreError> {
    let row = SquadRow {
        club_id: Key(club.0),
        id: Key(squad.id.0),
        name: squad.name.to_string(),
        version: squad.version,
        created_at: Utc(squad.created_at),
    };
    diesel::insert_into(squads::table).values(row).execute(tx.conn())?;
    put_people(tx, club, squad)
}

fn put_people(tx: &mut Tx<'_>, club: ClubId, squad: &Squad) -> Result<(), StoreError> {
    let row = |part: SquadPart, member: &MemberId| SquadMemberRow {
        club_id: Key(club.0),
        squad_id: Key(squad.id.0),
        member_id: Key(member.0),
        part: part.as_str().to_owned(),
    };
    let coaches = squad.coaches.iter().map(|member| row(SquadPart::Coach, member));
    let archers = squad.archers.iter().map(|member| row(SquadPart::Archer, member));
    let rows: Vec<SquadMemberRow> = coaches.chain(archers).collect();
    on_each!(tx.conn(), c => {
        diesel::insert_into(squad_members::table).values(&rows).execute(c)
    })?;
    Ok(())
}

fn take_people(tx: &mut Tx<'_>, club: ClubId, squad: SquadId) -> Result<(), StoreError> {
    let theirs =
        squad_members::club_id.eq(Key(club.0)).and(squad_members::squad_id.eq(Key(squad.0)));
    diesel::delete(squad_members::table.filter(theirs)).execute(tx.conn())?;
    Ok(())
}

/// Keeps a changed squad. `squad.version` is the one that it was read with; the one that is kept comes
/// after it. A conflict, if somebody else changed it meanwhile.
pub fn change(tx: &mut Tx<'_>, club: ClubId, squad: &Squad) -> Result<Squad, StoreError> {
    let changed = Squad { version: squad.version + 1, ..squad.clone() };
    let as_read = squads::table
        .find((Key(club.0), Key(squad.id.0)))
        .filter(squads::version.eq(squad.version));
    let new = (squads::name.eq(squad.name.as_str()), squads::version.eq(changed.version));
    let kept = diesel::update(as_read).set(new).execute(tx.conn())?;
    changed_once(kept)?;
    take_people(tx, club, squad.id)?;
    put_people(tx, club, &changed)?;
    Ok(changed)
}

/// Removes a squad; its people stay in the club, and the rules that were for it are taken out of the
/// book by who removed it. A conflict, if somebody else changed it meanwhile.
pub fn remove(
    tx: &mut Tx<'_>,
    club: ClubId,
    squad: &Squad,
    (by, at): (MemberId, Timestamp),
) -> Result<(), StoreError> {
    dialect::hold_people(tx, club)?;
    take_people(tx, club, squad.id)?;
    rules::withdraw_for_squad(tx, club, squad.id, (by, at))?;
    let as_read = squads::table
        .find((Key(club.0), Key(squad.id.0)))
        .filter(squads::version.eq(squad.version));
    changed_once(diesel::delete(as_read).execute(tx.conn())?)
}

/// One squad.
pub fn get(read: &mut Read<'_>, club: ClubId, squad: SquadId) -> Result<Squad, StoreError> {
    let row: SquadRow = squads::table
        .find((Key(club.0), Key(squad.0)))
        .select(SquadRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "squad" })?;
    with_people(read, club, vec![row])?.pop().ok_or(StoreError::NotFound { what: "squad" })
}

/// Squads of a club, or of one of its members, in the order they were made.
pub fn list(
    read: &mut Read<'_>,
    club: ClubId,
    of: Option<MemberId>,
    page: Page,
) -> Result<Vec<Squad>, StoreError> {
    let asked = squads::club_id.eq(Key(club.0)).and(squads::id.gt(page.after_key()));
    let query = squads::table.filter(asked).select(SquadRow::as_select()).order(squads::id);
    let query = query.limit(page.limit.into());
    let rows: Vec<SquadRow> = match of {
        None => query.load(read.conn())?, // unordered: the order is set above
        Some(member) => {
            let theirs = keys_of(read, club, member)?;
            query.filter(squads::id.eq_any(theirs)).load(read.conn())? // unordered: the order is set above
        }
    };
    with_people(read, club, rows)
}

/// Every squad of a club, in the order they were made.
pub fn all(read: &mut Read<'_>, club: ClubId) -> Result<Vec<Squad>, StoreError> {
    list(read, club, None, Page { after: None, limit: u32::MAX })
}

/// Every squad in which a member has a part, in the order they were made.
pub fn of_member(
    read: &mut Read<'_>,
    club: ClubId,
    member: MemberId,
) -> Result<Vec<Squad>, StoreError> {
    list(read, club, Some(member), Page { after: None, limit: u32::MAX })
}

fn keys_of(read: &mut Read<'_>, club: ClubId, member: MemberId) -> Result<Vec<Key>, StoreError> {
    let theirs =
        squad_members::club_id.eq(Key(club.0)).and(squad_members::member_id.eq(Key(member.0)));
    Ok(squad_members::table
        .filter(theirs)
        .select(squad_members::squad_id)
        .order(squad_members::squad_id)
        .load(read.conn())?)
}

/// The squads of these rows, with their people.
fn with_people(
    read: &mut Read<'_>,
    club: ClubId,
    rows: Vec<SquadRow>,
) -> Result<Vec<Squad>, StoreError> {
    let ids: Vec<Key> = rows.iter().map(|row| row.id).collect();
    let asked = squad_members::club_id.eq(Key(club.0)).and(squad_members::squad_id.eq_any(ids));
    let people: Vec<SquadMemberRow> = squad_members::table
        .filter(asked)
        .select(SquadMemberRow::as_select())
        .order((squad_members::squad_id, squad_members::part, squad_members::member_id))
        .load(read.conn())?;
    let mut by_part: BTreeMap<(SquadId, SquadPart), BTreeSet<MemberId>> = BTreeMap::new();
    for row in people {
        let bad = |found: &str| inconsistent("squad_members", "part", row.squad_id, found);
        let part = SquadPart::parse(&row.part).ok_or_else(|| bad(&row.part))?;
        let key = (SquadId(row.squad_id.0), part);
        by_part.entry(key).or_default().insert(MemberId(row.member_id.0));
    }
    let mut squads = Vec::with_capacity(rows.len());
    for row in rows {
        let id = SquadId(row.id.0);
        let bad = |_bad| inconsistent("squads", "name", row.id, &row.name);
        squads.push(Squad {
            id,
            name: Name::parse(&row.name).map_err(bad)?,
            coaches: by_part.remove(&(id, SquadPart::Coach)).unwrap_or_default(),
            archers: by_part.remove(&(id, SquadPart::Archer)).unwrap_or_default(),
            version: row.version,
            created_at: row.created_at.0,
        });
    }
    Ok(squads)
}

fn inconsistent(table: &'static str, column: &'static str, id: Key, found: &str) -> StoreError {
    StoreError::Inconsistent { table, column, id: id.0, found: found.to_owned() }
}

/// Takes a member out of every squad in which they have one of these parts.
pub fn take_out(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    parts: &[SquadPart],
) -> Result<(), StoreError> {
    dialect::hold_people(tx, club)?;
    for mut squad in of_member(tx, club, member)? {
        let coached = parts.contains(&SquadPart::Coach) && squad.coaches.remove(&member);
        let shot = parts.contains(&SquadPart::Archer) && squad.archers.remove(&member);
        if coached || shot {
            change(tx, club, &squad)?;
        }
    }
    Ok(())
}

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

/// The squads in which each archer of a club is.
pub(crate) fn of_archers(
    read: &mut Read<'_>,
    club: ClubId,
) -> Result<BTreeMap<MemberId, BTreeSet<SquadId>>, StoreError> {
    let pairs: Vec<(Key, Key)> = squad_members::table
        .filter(squad_members::club_id.eq(Key(club.0)).and(squad_members::part.eq("archer")))
        .select((squad_members::member_id, squad_members::squad_id))
        .order((squad_members::member_id, squad_members::squad_id))
        .load(read.conn())?;
    let mut found = BTreeMap::<MemberId, BTreeSet<SquadId>>::new();
    for (archer, squad) in pairs {
        found.entry(MemberId(archer.0)).or_default().insert(SquadId(squad.0));
    }
    Ok(found)
}
