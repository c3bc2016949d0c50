//! What bows were shot lately, day by day, for the forecast. It sums the ledger and keeps nothing.

use std::collections::BTreeMap;

use diesel::prelude::*;
use domain::{
    forecast::MOST_WEEKS,
    ids::{BowId, ClubId},
    time::Zone,
};
use jiff::{Span, Timestamp, civil::Date, civil::Time};

use crate::{
    Read, StoreError,
    schema::{bows, shot_logs},
    sql_types::{Key, Utc},
};

/// The shots of these bows on each local day of the last twelve weeks, oldest first; days without a
/// shot are left out. A bow that was logged for before that has besides, in front, the day of its first
/// log with 0 shots: so it can be told which weeks without a shot are real. A bow that was never
/// logged for is left out.
pub fn recent(
    read: &mut Read<'_>,
    club: ClubId,
    zone: &Zone,
    bows: &[BowId],
    today: Date,
) -> Result<BTreeMap<BowId, Vec<(Date, i64)>>, StoreError> {
    if bows.is_empty() {
        return Ok(BTreeMap::new());
    }
    let cutoff = today.saturating_sub(Span::new().weeks(i64::from(MOST_WEEKS)));
    // A day that has no beginning in time lies at the end of the calendar, where nobody shot.
    let since = zone.instant(cutoff, Time::midnight()).unwrap_or(Timestamp::UNIX_EPOCH);
    let mut days: BTreeMap<BowId, BTreeMap<Date, i64>> = BTreeMap::new();
    for (bow, first) in first_logs(read, club, bows)? {
        let of_bow = days.entry(bow).or_default();
        if first < since {
            of_bow.insert(zone.date_of(first), 0);
        }
    }
    for (bow, at, shots) in logs_since(read, club, bows, since)? {
        *days.entry(bow).or_default().entry(zone.date_of(at)).or_default() += i64::from(shots);
    }
    Ok(days.into_iter().map(|(bow, days)| (bow, days.into_iter().collect())).collect())
}

/// When each bow was first logged for, as far as the log still counts. One step into the index for each
/// bow, however long its ledger is.
fn first_logs(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &[BowId],
) -> Result<Vec<(BowId, Timestamp)>, StoreError> {
    let of_bow = shot_logs::club_id.eq(bows::club_id).and(shot_logs::bow_id.eq(bows::id));
    let first = shot_logs::table
        .filter(of_bow.and(shot_logs::counts.eq(true)))
        .order(shot_logs::at)
        .select(shot_logs::at)
        .limit(1)
        .single_value();
    let asked = bows::id.eq_any(bows.iter().map(|bow| Key(bow.0)));
    let firsts: Vec<(Key, Option<Utc>)> = bows::table
        .filter(bows::club_id.eq(Key(club.0)).and(asked))
        .select((bows::id, first))
        .order(bows::id)
        .load(read.conn())?;
    let known = firsts.into_iter().filter_map(|(bow, at)| Some((BowId(bow.0), at?.0)));
    Ok(known.collect())
}

fn logs_since(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &[BowId],
    since: Timestamp,
) -> Result<Vec<(BowId, Timestamp, i32)>, StoreError> {
    let theirs = shot_logs::bow_id.eq_any(bows.iter().map(|bow| Key(bow.0)));
    let rows: Vec<(Key, Utc, i32)> = shot_logs::table
        .filter(shot_logs::club_id.eq(Key(club.0)).and(theirs))
        .filter(shot_logs::counts.eq(true).and(shot_logs::at.ge(Utc(since))))
        .select((shot_logs::bow_id, shot_logs::at, shot_logs::shots))
        .order((shot_logs::bow_id, shot_logs::at))
        .load(read.conn())?;
    Ok(rows.into_iter().map(|(bow, at, shots)| (BowId(bow.0), at.0, shots)).collect())
}
