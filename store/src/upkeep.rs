//! Work done on parts.

use diesel::{dsl::max, prelude::*};
use domain::{
    fittings::{Fitting, FittingError},
    ids::{ClubId, MemberId, PartId, UpkeepId},
    parts::{Part, PartError},
    text::Note,
    upkeep::{Upkeep, UpkeepTask},
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx, clubs,
    dialect::{self, Hold},
    fittings, fresh_id, parts,
    schema::upkeep,
    sql_types::{Key, Utc},
    wear,
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = upkeep)]
struct UpkeepRow {
    club_id: Key,
    id: Key,
    part_id: Key,
    task: String,
    at: Utc,
    note: String,
    entered_by_member_id: Key,
    received_at: Utc,
}

impl TryFrom<UpkeepRow> for Upkeep {
    type Error = StoreError;

    fn try_from(row: UpkeepRow) -> Result<Self, StoreError> {
        let bad = |column, found: &str| StoreError::Inconsistent {
            table: "upkeep",
            column,
            id: row.id.0,
            found: found.to_owned(),
        };
        Ok(Self {
            id: UpkeepId(row.id.0),
            part_id: PartId(row.part_id.0),
            task: UpkeepTask::parse(&row.task).ok_or_else(|| bad("task", &row.task))?,
            at: row.at.0,
            note: Note::parse(&row.note).map_err(|_bad| bad("note", &row.note))?,
            entered_by: MemberId(row.entered_by_member_id.0),
            received_at: row.received_at.0,
        })
    }
}

/// Records work on a part from [`crate::parts::get_to_change`] and sets back the clock that counts since it.
pub fn record(tx: &mut Tx<'_>, club: ClubId, part: &Part, work: &Upkeep) -> Result<(), StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    let row = UpkeepRow {
        club_id: Key(club.0),
        id: Key(work.id.0),
        part_id: Key(work.part_id.0),
        task: work.task.as_str().to_owned(),
        at: Utc(work.at),
        note: work.note.as_str().to_owned(),
        entered_by_member_id: Key(work.entered_by.0),
        received_at: Utc(work.received_at),
    };
    diesel::insert_into(upkeep::table).values(row).execute(tx.conn())?;
    wear::recount(tx, club, part)
}

/// Records that a serving was wound anew: the old one is retired, and a new one of the same make
/// takes its place on the same string at the same moment. Returns the new one.
///
/// # Errors
/// A [`PartError`] or [`FittingError`] from the domain, or the database.
pub fn re_serve<E>(tx: &mut Tx<'_>, club: ClubId, old: &Part, work: &Upkeep) -> Result<PartId, E>
where
    E: From<StoreError> + From<FittingError> + From<PartError>,
{
    let zone = clubs::get(tx, club)?.zone;
    record(tx, club, old, work)?;
    let host = fittings::of_part(tx, club, old.id)?
        .into_iter()
        .find(|fitting| fitting.to.is_none())
        .map(|fitting| fitting.host);
    let retirement = old.re_served(work.at);
    parts::retire::<E>(tx, club, old.clone(), retirement)?;
    let id = fresh_id(work.received_at);
    let new = old.successor(id, zone.date_of(work.at), work.received_at);
    parts::add(tx, club, &new)?;
    if let Some(host) = host {
        let id = fresh_id(work.received_at);
        let fitting = Fitting { id, part_id: new.id, host, from: work.at, to: None };
        fittings::fit::<E>(tx, club, &fitting)?;
    }
    Ok(new.id)
}

/// When a kind of work was last done on a part.
pub(crate) fn last_done(
    read: &mut Read<'_>,
    club: ClubId,
    part: PartId,
    task: UpkeepTask,
) -> Result<Option<Timestamp>, StoreError> {
    let at: Option<Utc> = upkeep::table
        .filter(upkeep::club_id.eq(Key(club.0)))
        .filter(upkeep::part_id.eq(Key(part.0)).and(upkeep::task.eq(task.as_str())))
        .select(max(upkeep::at))
        .get_result(read.conn())?;
    Ok(at.map(|at| at.0))
}

/// All work on a part, oldest first.
pub fn of_part(read: &mut Read<'_>, club: ClubId, part: PartId) -> Result<Vec<Upkeep>, StoreError> {
    upkeep::table
        .filter(upkeep::club_id.eq(Key(club.0)).and(upkeep::part_id.eq(Key(part.0))))
        .select(UpkeepRow::as_select())
        .order((upkeep::at, upkeep::id))
        .load(read.conn())?
        .into_iter()
        .map(Upkeep::try_from)
        .collect()
}
