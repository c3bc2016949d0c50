//! Logs that may be of one shooting. Which they are is the domain's to say; here those that could be
//! are looked up.

use std::collections::BTreeMap;

use diesel::prelude::*;
use domain::{
    ids::{BowId, ClubId},
    ledger::{self, Pair, ShotLog},
    time::Zone,
};
use jiff::{Timestamp, civil::Date};

use super::{list::into_appended, row::ShotLogRow};
use crate::{
    Read, StoreError,
    schema::shot_logs,
    sql_types::{Key, Utc},
};

/// Whether another log that counts may be of the same shooting as this one. One look into the index of
/// the bow's logs, of one day.
pub fn may_be_a_repeat(
    read: &mut Read<'_>,
    club: ClubId,
    zone: &Zone,
    log: &ShotLog,
) -> Result<bool, StoreError> {
    // At the end of the calendar there is no other log.
    let Ok((begin, end)) = zone.day(zone.date_of(log.time.at)) else { return Ok(false) };
    let alike = shot_logs::club_id
        .eq(Key(club.0))
        .and(shot_logs::bow_id.eq(Key(log.bow_id.0)))
        .and(shot_logs::at.ge(Utc(begin)).and(shot_logs::at.lt(Utc(end))))
        .and(shot_logs::counts.eq(true))
        .and(shot_logs::shots.eq(i32::from(log.shots.get())));
    let rows = shot_logs::table
        .filter(alike)
        .select(ShotLogRow::as_select())
        .order((shot_logs::at, shot_logs::id))
        .load(read.conn())?;
    let others = speaking(read, club, rows)?;
    Ok(others.iter().any(|other| log.may_repeat(other, zone)))
}

/// The logs of these bows within a span, from its first day to its last, that may be of one shooting.
pub fn possible_duplicates(
    read: &mut Read<'_>,
    club: ClubId,
    zone: &Zone,
    bows: &[BowId],
    (begin, end): (Timestamp, Timestamp),
) -> Result<Vec<Pair>, StoreError> {
    let theirs = shot_logs::bow_id.eq_any(bows.iter().map(|bow| Key(bow.0)));
    let rows: Vec<ShotLogRow> = shot_logs::table
        .filter(shot_logs::club_id.eq(Key(club.0)).and(theirs).and(shot_logs::counts.eq(true)))
        .filter(shot_logs::at.ge(Utc(begin)).and(shot_logs::at.lt(Utc(end))))
        .select(ShotLogRow::as_select())
        .order((shot_logs::bow_id, shot_logs::at, shot_logs::id))
        .load(read.conn())?;
    let mut alike = BTreeMap::<(Key, Date, i32), Vec<ShotLogRow>>::new();
    for row in rows {
        alike.entry((row.bow_id, zone.date_of(row.at.0), row.shots)).or_default().push(row);
    }
    // Most days have one log of a bow, so few are left.
    let rows = alike.into_values().filter(|rows| rows.len() > 1).flatten().collect();
    Ok(ledger::possible_duplicates(speaking(read, club, rows)?, zone))
}

/// What the logs say whose last entries these are.
fn speaking(
    read: &mut Read<'_>,
    club: ClubId,
    rows: Vec<ShotLogRow>,
) -> Result<Vec<ShotLog>, StoreError> {
    let appended = into_appended(read, club, &rows)?;
    let says = |row: ShotLogRow| match row.corrects_id.and_then(|first| appended.get(&first)) {
        Some(first) => row.speaking_for(first),
        None => row.try_into(),
    };
    rows.into_iter().map(says).collect()
}
