//! What the clocks of a part show: derived from ledger, fittings and upkeep in the transaction
//! that changes one of them.

use std::collections::{BTreeMap, BTreeSet};

use diesel::{dsl::sum, prelude::*};
use domain::{
    ids::{ClubId, PartId},
    ledger::{Clock, Reading, ShotLog, Stretch, shots_before, stretches},
    parts::Part,
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx, clubs, dialect, fittings, parts,
    schema::{shot_logs, wear},
    sql_types::{Key, Utc},
    upkeep,
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = wear, treat_none_as_default_value = false)]
struct WearRow {
    club_id: Key,
    part_id: Key,
    clock: String,
    counts_from: Utc,
    reset_at: Option<Utc>,
    shots: i64,
}

impl TryFrom<WearRow> for Reading {
    type Error = StoreError;

    fn try_from(row: WearRow) -> Result<Self, StoreError> {
        let clock = Clock::parse(&row.clock).ok_or_else(|| StoreError::Inconsistent {
            table: "wear",
            column: "clock",
            id: row.part_id.0,
            found: row.clock.clone(),
        })?;
        Ok(Self { clock, shots: row.shots, reset_at: row.reset_at.map(|at| at.0) })
    }
}

/// Counts every clock of a part anew from the ledger.
pub(crate) fn recount(tx: &mut Tx<'_>, club: ClubId, part: &Part) -> Result<(), StoreError> {
    let rows = all_counted(tx, club, part)?;
    diesel::delete(
        wear::table.filter(wear::club_id.eq(Key(club.0)).and(wear::part_id.eq(Key(part.id.0)))),
    )
    .execute(tx.conn())?;
    for row in rows {
        diesel::insert_into(wear::table).values(row).execute(tx.conn())?;
    }
    Ok(())
}

fn all_counted(read: &mut Read<'_>, club: ClubId, part: &Part) -> Result<Vec<WearRow>, StoreError> {
    let of_part = fittings::of_part(read, club, part.id)?;
    let of_hosts = fittings::of_hosts(read, club, &of_part)?;
    let stretches = stretches(&of_part, &of_hosts);
    let clocks = part.kind.clocks().iter();
    clocks.map(|&clock| counted(read, club, part, clock, &stretches)).collect()
}

/// Every clock of a part in words, counted anew from the ledger.
pub(crate) fn counted_of(
    read: &mut Read<'_>,
    club: ClubId,
    part: &Part,
) -> Result<BTreeMap<Clock, String>, StoreError> {
    in_words(all_counted(read, club, part)?)
}

/// Every clock of a part in words, as it is kept.
pub(crate) fn kept(
    read: &mut Read<'_>,
    club: ClubId,
    part: PartId,
) -> Result<BTreeMap<Clock, String>, StoreError> {
    let rows = wear::table
        .filter(wear::club_id.eq(Key(club.0)).and(wear::part_id.eq(Key(part.0))))
        .select(WearRow::as_select())
        .order(wear::clock)
        .load(read.conn())?;
    in_words(rows)
}

fn in_words(rows: Vec<WearRow>) -> Result<BTreeMap<Clock, String>, StoreError> {
    let words = rows.into_iter().map(|row| {
        let from = row.counts_from.0;
        let Reading { clock, shots, reset_at } = row.try_into()?;
        let done = reset_at.map_or_else(|| "never".to_owned(), |at| at.to_string());
        Ok((clock, format!("{shots} shots from {from} on, last done {done}")))
    });
    words.collect()
}

/// Counts anew the parts that lack a clock: a release may count more than the one before it did.
pub(crate) fn complete(tx: &mut Tx<'_>) -> Result<(), StoreError> {
    for club in clubs::ids(tx)? {
        let readings = of_club(tx, club)?;
        for part in parts::all(tx, club)? {
            let counted = readings.get(&part.id).map(Vec::as_slice).unwrap_or_default();
            let lacks = |clock| !counted.iter().any(|reading| reading.clock == clock);
            if part.kind.clocks().iter().any(|&clock| lacks(clock)) {
                recount(tx, club, &part)?;
            }
        }
    }
    Ok(())
}

/// One clock, by the formula of [`domain::ledger::count`], summed by the database.
fn counted(
    read: &mut Read<'_>,
    club: ClubId,
    part: &Part,
    clock: Clock,
    stretches: &[Stretch],
) -> Result<WearRow, StoreError> {
    let reset_at = match clock {
        Clock::Life => None,
        Clock::Since(task) => upkeep::last_done(read, club, part.id, task)?,
    };
    let counts_from =
        reset_at.max(part.start.map(|start| start.at)).unwrap_or(Timestamp::UNIX_EPOCH);
    let mut shots = shots_before(part.start, reset_at);
    for stretch in stretches {
        shots += logged(read, club, stretch, counts_from)?;
    }
    Ok(WearRow {
        club_id: Key(club.0),
        part_id: Key(part.id.0),
        clock: clock.as_str().to_owned(),
        counts_from: Utc(counts_from),
        reset_at: reset_at.map(Utc),
        shots,
    })
}

fn logged(
    read: &mut Read<'_>,
    club: ClubId,
    stretch: &Stretch,
    counts_from: Timestamp,
) -> Result<i64, StoreError> {
    let mine = shot_logs::club_id.eq(Key(club.0)).and(shot_logs::bow_id.eq(Key(stretch.bow_id.0)));
    let not_before =
        shot_logs::at.ge(Utc(stretch.from.max(counts_from))).and(shot_logs::counts.eq(true));
    let total: Option<i64> = match stretch.to {
        Some(to) => shot_logs::table
            .filter(mine.and(not_before).and(shot_logs::at.lt(Utc(to))))
            .select(sum(shot_logs::shots))
            .get_result(read.conn())?,
        None => shot_logs::table
            .filter(mine.and(not_before))
            .select(sum(shot_logs::shots))
            .get_result(read.conn())?,
    };
    Ok(total.unwrap_or(0))
}

/// Shots at a time that are to count for parts from now on, or no longer to count where they are
/// fewer than none.
pub(crate) struct Shift<'p> {
    pub(crate) parts: &'p [PartId],
    pub(crate) at: Timestamp,
    pub(crate) shots: i64,
}

impl<'p> Shift<'p> {
    /// What a log adds.
    pub(crate) fn on(parts: &'p [PartId], log: &ShotLog) -> Self {
        Self { parts, at: log.time.at, shots: i64::from(log.shots.get()) }
    }

    /// What a log that no longer says so takes back.
    pub(crate) fn back(parts: &'p [PartId], log: &ShotLog) -> Self {
        Self { parts, at: log.time.at, shots: -i64::from(log.shots.get()) }
    }
}

/// Moves clocks on, or back, after what was just written to the ledger. All of them are held at once:
/// two transactions that each took some first would wait for each other.
pub(crate) fn shift(tx: &mut Tx<'_>, club: ClubId, shifts: &[Shift<'_>]) -> Result<(), StoreError> {
    let all: BTreeSet<PartId> =
        shifts.iter().flat_map(|shift| shift.parts.iter().copied()).collect();
    dialect::hold_clocks(tx, club, &all.into_iter().collect::<Vec<_>>())?;
    for Shift { parts, at, shots } in shifts.iter().filter(|shift| !shift.parts.is_empty()) {
        let theirs = wear::part_id.eq_any(parts.iter().map(|part| Key(part.0)));
        let counting = wear::counts_from.le(Utc(*at));
        diesel::update(wear::table.filter(wear::club_id.eq(Key(club.0)).and(theirs).and(counting)))
            .set(wear::shots.eq(wear::shots + *shots))
            .execute(tx.conn())?;
    }
    Ok(())
}

/// What the clocks of a part show.
pub fn readings(
    read: &mut Read<'_>,
    club: ClubId,
    part: PartId,
) -> Result<Vec<Reading>, StoreError> {
    wear::table
        .filter(wear::club_id.eq(Key(club.0)).and(wear::part_id.eq(Key(part.0))))
        .select(WearRow::as_select())
        .order(wear::clock)
        .load(read.conn())?
        .into_iter()
        .map(Reading::try_from)
        .collect()
}

/// What all clocks of a club show, by part.
pub(crate) fn of_club(
    read: &mut Read<'_>,
    club: ClubId,
) -> Result<BTreeMap<PartId, Vec<Reading>>, StoreError> {
    let rows = wear::table
        .filter(wear::club_id.eq(Key(club.0)))
        .select(WearRow::as_select())
        .order((wear::part_id, wear::clock))
        .load(read.conn())?;
    by_part(rows)
}

/// What the clocks of these parts show.
pub(crate) fn of_parts(
    read: &mut Read<'_>,
    club: ClubId,
    parts: &[PartId],
) -> Result<BTreeMap<PartId, Vec<Reading>>, StoreError> {
    let theirs = wear::part_id.eq_any(parts.iter().map(|part| Key(part.0)));
    let rows = wear::table
        .filter(wear::club_id.eq(Key(club.0)).and(theirs))
        .select(WearRow::as_select())
        .order((wear::part_id, wear::clock))
        .load(read.conn())?;
    by_part(rows)
}

fn by_part(rows: Vec<WearRow>) -> Result<BTreeMap<PartId, Vec<Reading>>, StoreError> {
    let mut found: BTreeMap<PartId, Vec<Reading>> = BTreeMap::new();
    for row in rows {
        found.entry(PartId(row.part_id.0)).or_default().push(row.try_into()?);
    }
    Ok(found)
}
