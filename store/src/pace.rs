//! What bows were shot lately, day by day, for the forecast. It reads days that were counted before, so
//! it costs the same however many logs they were counted from.

use std::collections::BTreeMap;

use diesel::prelude::*;
use domain::{
    forecast::MOST_WEEKS,
    ids::{BowId, ClubId},
};
use jiff::{Span, civil::Date};

use crate::{
    Read, StoreError,
    schema::{bow_days, bows},
    sql_types::{Day, Key},
};

/// The shots of these bows on each local day of the last twelve weeks, oldest first; days without a
/// shot are left out. A bow that was logged for before that has besides, in front, the day of its first
/// log with 0 shots: so it can be told which weeks without a shot are real. A bow that was never
/// logged for is left out.
pub fn recent(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &[BowId],
    today: Date,
) -> Result<BTreeMap<BowId, Vec<(Date, i64)>>, StoreError> {
    if bows.is_empty() {
        return Ok(BTreeMap::new());
    }
    let since = today.saturating_sub(Span::new().weeks(i64::from(MOST_WEEKS)));
    let mut days: BTreeMap<BowId, Vec<(Date, i64)>> = BTreeMap::new();
    for (bow, first) in first_days(read, club, bows)? {
        let of_bow = days.entry(bow).or_default();
        if first < since {
            of_bow.push((first, 0));
        }
    }
    for (bow, on, shots) in days_since(read, club, bows, since)? {
        days.entry(bow).or_default().push((on, shots));
    }
    Ok(days)
}

/// The day on which each bow was first logged for. One step into the index for each bow, however long its
/// ledger is.
fn first_days(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &[BowId],
) -> Result<Vec<(BowId, Date)>, StoreError> {
    let of_bow = bow_days::club_id.eq(bows::club_id).and(bow_days::bow_id.eq(bows::id));
    let first = bow_days::table
        .filter(of_bow)
        .order(bow_days::on_date)
        .select(bow_days::on_date)
        .limit(1)
        .single_value();
    let asked = bows::id.eq_any(bows.iter().map(|bow| Key(bow.0)));
    let firsts: Vec<(Key, Option<Day>)> = bows::table
        .filter(bows::club_id.eq(Key(club.0)).and(asked))
        .select((bows::id, first))
        .order(bows::id)
        .load(read.conn())?;
    let known = firsts.into_iter().filter_map(|(bow, on)| Some((BowId(bow.0), on?.0)));
    Ok(known.collect())
}

fn days_since(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &[BowId],
    since: Date,
) -> Result<Vec<(BowId, Date, i64)>, StoreError> {
    let theirs = bow_days::bow_id.eq_any(bows.iter().map(|bow| Key(bow.0)));
    let rows: Vec<(Key, Day, i64)> = bow_days::table
        .filter(bow_days::club_id.eq(Key(club.0)).and(theirs))
        .filter(bow_days::on_date.ge(Day(since)))
        .select((bow_days::bow_id, bow_days::on_date, bow_days::shots))
        .order((bow_days::bow_id, bow_days::on_date))
        .load(read.conn())?;
    Ok(rows.into_iter().map(|(bow, on, shots)| (BowId(bow.0), on.0, shots)).collect())
}
