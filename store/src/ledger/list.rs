//! What was logged, as it stands now.

use std::collections::BTreeMap;

use diesel::prelude::*;
use domain::{
    ids::{BowId, ClubId, ShotLogId},
    ledger::ShotLog,
};

use super::row::ShotLogRow;
use crate::{Page, Read, StoreError, schema::shot_logs, sql_types::Key};

/// Logs of a club, or of some bows, by id: as they were entered, where ids are of version 7. Each
/// shows what it says now and keeps its place when it is corrected; one that is void is left out.
pub fn list(
    read: &mut Read<'_>,
    club: ClubId,
    bows: Option<&[BowId]>,
    page: Page,
) -> Result<Vec<ShotLog>, StoreError> {
    if bows.is_some_and(<[BowId]>::is_empty) {
        return Ok(Vec::new());
    }
    let mut logs = uncorrected(read, club, bows, page)?;
    logs.extend(corrected(read, club, bows, page)?);
    logs.sort_by_key(|log| log.id);
    logs.truncate(usize::try_from(page.limit).unwrap_or(usize::MAX));
    Ok(logs)
}

/// A page of those that still say what they said when they were appended.
fn uncorrected(
    read: &mut Read<'_>,
    club: ClubId,
    bows: Option<&[BowId]>,
    page: Page,
) -> Result<Vec<ShotLog>, StoreError> {
    let mine = shot_logs::club_id.eq(Key(club.0)).and(shot_logs::id.gt(page.after_key()));
    let query = shot_logs::table
        .filter(mine.and(shot_logs::corrects_id.is_null()).and(shot_logs::counts.eq(true)))
        .select(ShotLogRow::as_select())
        .order(shot_logs::id)
        .limit(page.limit.into());
    let rows = match bows {
        Some(bows) => query.filter(shot_logs::bow_id.eq_any(keys(bows))).load(read.conn()), // unordered: the order is set above
        None => query.load(read.conn()), // unordered: the order is set above
    };
    rows?.into_iter().map(ShotLog::try_from).collect()
}

/// A page of those that were corrected, by the ids that they had when they were appended.
fn corrected(
    read: &mut Read<'_>,
    club: ClubId,
    bows: Option<&[BowId]>,
    page: Page,
) -> Result<Vec<ShotLog>, StoreError> {
    let after = shot_logs::corrects_id.gt(page.after_key()).assume_not_null();
    let mine = shot_logs::club_id.eq(Key(club.0)).and(after);
    let query = shot_logs::table
        .filter(mine.and(shot_logs::counts.eq(true)))
        .select(ShotLogRow::as_select())
        .order(shot_logs::corrects_id)
        .limit(page.limit.into());
    let rows: Vec<ShotLogRow> = match bows {
        Some(bows) => query.filter(shot_logs::bow_id.eq_any(keys(bows))).load(read.conn()), // unordered: the order is set above
        None => query.load(read.conn()), // unordered: the order is set above
    }?;
    speaking(read, club, rows)?.into_iter().collect()
}

/// What logs say by these corrections of them.
fn speaking(
    read: &mut Read<'_>,
    club: ClubId,
    corrections: Vec<ShotLogRow>,
) -> Result<Vec<Result<ShotLog, StoreError>>, StoreError> {
    let appended = into_appended(read, club, &corrections)?;
    let speaks_for = |row: ShotLogRow| {
        let first = appended.get(&row.corrects_id?)?;
        Some(row.speaking_for(first))
    };
    Ok(corrections.into_iter().filter_map(speaks_for).collect())
}

/// Those of these logs that there are, by id, each as it stands after its corrections; one that is void
/// is not there.
pub fn some(
    read: &mut Read<'_>,
    club: ClubId,
    ids: &[ShotLogId],
) -> Result<BTreeMap<ShotLogId, ShotLog>, StoreError> {
    let mut found = BTreeMap::new();
    for ids in ids.chunks(AT_ONCE) {
        let asked: Vec<Key> = ids.iter().map(|log| Key(log.0)).collect();
        let mine = shot_logs::club_id.eq(Key(club.0)).and(shot_logs::counts.eq(true));
        let first = shot_logs::corrects_id.is_null().and(shot_logs::id.eq_any(asked.clone()));
        let rows: Vec<ShotLogRow> = shot_logs::table
            .filter(mine.and(first))
            .select(ShotLogRow::as_select())
            .order(shot_logs::id)
            .load(read.conn())?;
        let last = shot_logs::corrects_id.eq_any(asked.into_iter().map(Some)).assume_not_null();
        let corrections: Vec<ShotLogRow> = shot_logs::table
            .filter(mine.and(last))
            .select(ShotLogRow::as_select())
            .order(shot_logs::corrects_id)
            .load(read.conn())?;
        let logs = rows.into_iter().map(ShotLog::try_from);
        for log in logs.chain(speaking(read, club, corrections)?) {
            let log = log?;
            found.insert(log.id, log);
        }
    }
    Ok(found)
}

/// How many ids a statement names at most.
const AT_ONCE: usize = 1_000;

/// The logs that these correct, by key.
pub(super) fn into_appended(
    read: &mut Read<'_>,
    club: ClubId,
    corrections: &[ShotLogRow],
) -> Result<BTreeMap<Key, ShotLogRow>, StoreError> {
    if corrections.iter().all(|row| row.corrects_id.is_none()) {
        return Ok(BTreeMap::new());
    }
    let corrected = shot_logs::id.eq_any(corrections.iter().filter_map(|row| row.corrects_id));
    let rows = shot_logs::table
        .filter(shot_logs::club_id.eq(Key(club.0)).and(corrected))
        .select(ShotLogRow::as_select())
        .order(shot_logs::id)
        .load(read.conn())?;
    Ok(rows.into_iter().map(|row: ShotLogRow| (row.id, row)).collect())
}

fn keys(bows: &[BowId]) -> impl Iterator<Item = Key> {
    bows.iter().map(|bow| Key(bow.0))
}
