//! Work done on parts.

use std::collections::{BTreeMap, BTreeSet};

use diesel::{dsl::max, prelude::*};
use domain::{
    fittings::{Fitting, FittingError},
    ids::{ClubId, MemberId, PartId, UpkeepId},
    parts::{Part, PartError},
    text::Note,
    upkeep::{Finding, Grade, Upkeep, UpkeepTask},
};
use jiff::Timestamp;
use uuid::Uuid;

use crate::{
    Read, StoreError, Tx, clubs,
    dialect::{self, Hold},
    error::changed_once,
    fittings, fresh_id, parts,
    schema::{findings, stops, upkeep},
    sql_types::{Key, Utc},
    stops as stopped, wear,
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = upkeep, treat_none_as_default_value = false)]
struct UpkeepRow {
    club_id: Key,
    id: Key,
    part_id: Key,
    task: String,
    at: Utc,
    note: String,
    entered_by_member_id: Key,
    received_at: Utc,
    measured_mm: Option<f64>,
    clears: bool,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = findings)]
struct FindingRow {
    club_id: Key,
    upkeep_id: Key,
    finding: String,
    grade: i32,
}

impl UpkeepRow {
    fn with(self, findings: BTreeMap<Finding, Grade>) -> Result<Upkeep, StoreError> {
        let row = self;
        let bad = |column, found: &str| StoreError::Inconsistent {
            table: "upkeep",
            column,
            id: row.id.0,
            found: found.to_owned(),
        };
        Ok(Upkeep {
            findings,
            measured_mm: row.measured_mm,
            clears: row.clears,
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

/// Records work on a part from [`crate::parts::get_to_change`] and sets back the clock that counts since
/// it. An inspection may stop the part, or lift what forbade shooting it.
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
        measured_mm: work.measured_mm,
        clears: work.clears,
    };
    diesel::insert_into(upkeep::table).values(row).execute(tx.conn())?;
    for (finding, grade) in &work.findings {
        let row = FindingRow {
            club_id: Key(club.0),
            upkeep_id: Key(work.id.0),
            finding: finding.as_str().to_owned(),
            grade: grade.number(),
        };
        diesel::insert_into(findings::table).values(row).execute(tx.conn())?;
    }
    wear::recount(tx, club, part)?;
    match work.task {
        UpkeepTask::Inspected => stopped::reckon(tx, club, &[part.id]),
        _ => Ok(()),
    }
}

/// One piece of work.
pub fn get(read: &mut Read<'_>, club: ClubId, work: UpkeepId) -> Result<Upkeep, StoreError> {
    let row: UpkeepRow = upkeep::table
        .find((Key(club.0), Key(work.0)))
        .select(UpkeepRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "upkeep" })?;
    let mut findings = findings_of(read, club, &[PartId(row.part_id.0)], Grade::None)?;
    let found = findings.remove(&row.id.0).unwrap_or_default();
    row.with(found)
}

/// Takes work off the record of a part from [`crate::parts::get_to_change`] that was never done. The
/// clock that counts since it goes on from the work before, and what it stopped or cleared is judged
/// anew.
pub fn remove(tx: &mut Tx<'_>, club: ClubId, part: &Part, work: &Upkeep) -> Result<(), StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    let mine = upkeep::part_id.eq(Key(part.id.0));
    let named = Key(work.id.0);
    let by_it = stops::upkeep_id.eq(Some(named)).assume_not_null();
    diesel::delete(stops::table.filter(stops::club_id.eq(Key(club.0)).and(by_it)))
        .execute(tx.conn())?;
    let found = findings::club_id.eq(Key(club.0)).and(findings::upkeep_id.eq(named));
    diesel::delete(findings::table.filter(found)).execute(tx.conn())?;
    let rows =
        diesel::delete(upkeep::table.find((Key(club.0), named)).filter(mine)).execute(tx.conn())?;
    changed_once(rows)?;
    wear::recount(tx, club, part)?;
    match work.task {
        UpkeepTask::Inspected => stopped::reckon(tx, club, &[part.id]),
        _ => Ok(()),
    }
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
        let fitting = Fitting { id, part_id: new.id, host, from: work.at, to: None, version: 1 };
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

/// When a kind of work had last been done on a part by a moment.
pub(crate) fn last_done_by(
    read: &mut Read<'_>,
    club: ClubId,
    part: PartId,
    task: UpkeepTask,
    by: Timestamp,
) -> Result<Option<Timestamp>, StoreError> {
    let at: Option<Utc> = upkeep::table
        .filter(upkeep::club_id.eq(Key(club.0)).and(upkeep::at.le(Utc(by))))
        .filter(upkeep::part_id.eq(Key(part.0)).and(upkeep::task.eq(task.as_str())))
        .select(max(upkeep::at))
        .get_result(read.conn())?;
    Ok(at.map(|at| at.0))
}

/// All work on a part, oldest first.
pub fn of_part(read: &mut Read<'_>, club: ClubId, part: PartId) -> Result<Vec<Upkeep>, StoreError> {
    let rows: Vec<UpkeepRow> = upkeep::table
        .filter(upkeep::club_id.eq(Key(club.0)).and(upkeep::part_id.eq(Key(part.0))))
        .select(UpkeepRow::as_select())
        .order((upkeep::at, upkeep::id))
        .load(read.conn())?;
    let mut findings = findings_of(read, club, &[part], Grade::None)?;
    rows.into_iter()
        .map(|row| {
            let found = findings.remove(&row.id.0).unwrap_or_default();
            row.with(found)
        })
        .collect()
}

/// All work on every part of a club, by id.
pub fn of_club(read: &mut Read<'_>, club: ClubId) -> Result<Vec<Upkeep>, StoreError> {
    let rows: Vec<UpkeepRow> = upkeep::table
        .filter(upkeep::club_id.eq(Key(club.0)))
        .select(UpkeepRow::as_select())
        .order(upkeep::id)
        .load(read.conn())?;
    let found: Vec<FindingRow> = findings::table
        .filter(findings::club_id.eq(Key(club.0)))
        .select(FindingRow::as_select())
        .order((findings::upkeep_id, findings::finding))
        .load(read.conn())?;
    let mut findings = by_inspection(found)?;
    let with = |row: UpkeepRow| {
        let found = findings.remove(&row.id.0).unwrap_or_default();
        row.with(found)
    };
    rows.into_iter().map(with).collect()
}

/// Those inspections of these parts that found something unsafe or that clear, oldest first; of their
/// findings only what is unsafe.
pub(crate) fn that_stop_or_clear(
    read: &mut Read<'_>,
    club: ClubId,
    parts: &[PartId],
) -> Result<BTreeMap<PartId, Vec<Upkeep>>, StoreError> {
    let mut unsafe_ones = findings_of(read, club, parts, Grade::Unsafe)?;
    let named = upkeep::id.eq_any(unsafe_ones.keys().map(|id| Key(*id)).collect::<Vec<_>>());
    let theirs = upkeep::part_id.eq_any(parts.iter().map(|part| Key(part.0)));
    let rows: Vec<UpkeepRow> = upkeep::table
        .filter(upkeep::club_id.eq(Key(club.0)).and(theirs))
        .filter(upkeep::clears.eq(true).or(named))
        .select(UpkeepRow::as_select())
        .order((upkeep::at, upkeep::id))
        .load(read.conn())?;
    let mut found = BTreeMap::<PartId, Vec<Upkeep>>::new();
    for row in rows {
        let findings = unsafe_ones.remove(&row.id.0).unwrap_or_default();
        found.entry(PartId(row.part_id.0)).or_default().push(row.with(findings)?);
    }
    Ok(found)
}

/// What was found at each inspection of these parts, from a grade on.
fn findings_of(
    read: &mut Read<'_>,
    club: ClubId,
    parts: &[PartId],
    from: Grade,
) -> Result<BTreeMap<Uuid, BTreeMap<Finding, Grade>>, StoreError> {
    let of_part = upkeep::club_id.eq(findings::club_id).and(upkeep::id.eq(findings::upkeep_id));
    let theirs = upkeep::part_id.eq_any(parts.iter().map(|part| Key(part.0)));
    let rows: Vec<FindingRow> = findings::table
        .inner_join(upkeep::table.on(of_part))
        .filter(findings::club_id.eq(Key(club.0)).and(theirs))
        .filter(findings::grade.ge(from.number()))
        .select(FindingRow::as_select())
        .order((findings::upkeep_id, findings::finding))
        .load(read.conn())?;
    by_inspection(rows)
}

fn by_inspection(
    rows: Vec<FindingRow>,
) -> Result<BTreeMap<Uuid, BTreeMap<Finding, Grade>>, StoreError> {
    let mut found = BTreeMap::<Uuid, BTreeMap<Finding, Grade>>::new();
    for row in rows {
        let bad = |column, found: String| StoreError::Inconsistent {
            table: "findings",
            column,
            id: row.upkeep_id.0,
            found,
        };
        let finding =
            Finding::parse(&row.finding).ok_or_else(|| bad("finding", row.finding.clone()))?;
        let grade = Grade::new(row.grade.into());
        let grade = grade.ok_or_else(|| bad("grade", row.grade.to_string()))?;
        found.entry(row.upkeep_id.0).or_default().insert(finding, grade);
    }
    Ok(found)
}

/// Every inspection of these parts, or of all, with all that was found; oldest first.
pub(crate) fn inspections(
    read: &mut Read<'_>,
    club: ClubId,
    parts: Option<&[PartId]>,
) -> Result<BTreeMap<PartId, Vec<Upkeep>>, StoreError> {
    let query = upkeep::table
        .filter(upkeep::club_id.eq(Key(club.0)))
        .filter(upkeep::task.eq(UpkeepTask::Inspected.as_str()))
        .select(UpkeepRow::as_select())
        .order((upkeep::at, upkeep::id));
    let rows: Vec<UpkeepRow> = match parts {
        Some(parts) => {
            let theirs = upkeep::part_id.eq_any(parts.iter().map(|part| Key(part.0)));
            query.filter(theirs).load(read.conn())? // unordered: the order is set above
        }
        None => query.load(read.conn())?, // unordered: the order is set above
    };
    let of: BTreeSet<PartId> = rows.iter().map(|row| PartId(row.part_id.0)).collect();
    let of: Vec<PartId> = of.into_iter().collect();
    let mut findings = findings_of(read, club, &of, Grade::None)?;
    let mut found = BTreeMap::<PartId, Vec<Upkeep>>::new();
    for row in rows {
        let findings = findings.remove(&row.id.0).unwrap_or_default();
        found.entry(PartId(row.part_id.0)).or_default().push(row.with(findings)?);
    }
    Ok(found)
}
