//! Appending logs, each once whatever happens.

use std::collections::BTreeSet;

use diesel::prelude::*;
use domain::{
    ids::{ClubId, PartId},
    ledger::ShotLog,
    time::Zone,
};

use super::{chain::Chain, row::ShotLogRow};
use crate::{
    StoreError, Tx, bow_days, bows, clubs,
    dialect::{self, Hold},
    fittings,
    schema::shot_logs,
    sql_types::Key,
    wear::{self, Shift},
};

/// What became of a log that was to be appended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Appended {
    /// It is new; its shots were counted.
    New,
    /// It was appended before in these words; nothing was counted. This is what it says now, after
    /// whatever was corrected since.
    Again(ShotLog),
    /// It was appended before in these words, and made void since; nothing was counted. This is what
    /// it said.
    Void(ShotLog),
    /// Its id stands for another entry; nothing was counted.
    IdTaken,
}

/// An entry and the parts it counts for, which are those under its bow at its time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// What became of it.
    pub appended: Appended,
    /// In which version the log is now.
    pub version: i32,
    /// The parts under the bow of the log at its time, by id; none if it is void.
    pub parts: Vec<PartId>,
}

/// Appends a log and counts it for every part under its bow, once whatever happens. A transaction
/// that appends several does so by [`append_all`].
pub fn append(tx: &mut Tx<'_>, club: ClubId, log: &ShotLog) -> Result<Entry, StoreError> {
    dialect::hold(tx, club, Hold::Shared)?;
    bows::get(tx, club, log.bow_id)?;
    let zone = clubs::zone(tx, club)?;
    append_one(tx, club, &zone, log)
}

/// Appends logs in the order given. It holds the club alone: two such transactions that name the
/// same bows in opposite order would otherwise wait for each other's counts.
pub fn append_all(
    tx: &mut Tx<'_>,
    club: ClubId,
    logs: &[ShotLog],
) -> Result<Vec<Entry>, StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    for bow in logs.iter().map(|log| log.bow_id).collect::<BTreeSet<_>>() {
        bows::get(tx, club, bow)?;
    }
    let zone = clubs::zone(tx, club)?;
    logs.iter().map(|log| append_one(tx, club, &zone, log)).collect()
}

/// Appends a log of a bow that is there, where the club is held.
fn append_one(
    tx: &mut Tx<'_>,
    club: ClubId,
    zone: &Zone,
    log: &ShotLog,
) -> Result<Entry, StoreError> {
    if !insert_if_absent(tx, ShotLogRow::of(club, log))? {
        return again(tx, club, log);
    }
    let parts = fittings::under_bow(tx, club, log.bow_id, log.time.at)?;
    wear::shift(tx, club, &[Shift::on(&parts, log)])?;
    bow_days::shift(tx, club, bow_days::of_logs(zone, &[log], &[]))?;
    Ok(Entry { appended: Appended::New, version: 1, parts })
}

fn insert_if_absent(tx: &mut Tx<'_>, row: ShotLogRow) -> Result<bool, StoreError> {
    let added = dialect::on_each!(tx.conn(), c => {
        diesel::insert_into(shot_logs::table).values(row).on_conflict_do_nothing().execute(c)
    })?;
    Ok(added == 1)
}

/// What is said of a log whose id is there already. It is compared with what was appended, not with
/// what it was corrected to: whoever sends it again does not know of that.
fn again(tx: &mut Tx<'_>, club: ClubId, log: &ShotLog) -> Result<Entry, StoreError> {
    let taken = Entry { appended: Appended::IdTaken, version: 1, parts: Vec::new() };
    if is_a_correction(tx, club, log)? {
        return Ok(taken);
    }
    let before = super::get(tx, club, log.id)?;
    if !before.says_the_same(log) {
        return Ok(taken);
    }
    let chain = Chain::of(tx, club, log.id)?;
    let version = chain.version();
    let Some(now) = chain.says_now()? else {
        return Ok(Entry { appended: Appended::Void(before), version, parts: Vec::new() });
    };
    let parts = fittings::under_bow(tx, club, now.bow_id, now.time.at)?;
    Ok(Entry { appended: Appended::Again(now), version, parts })
}

fn is_a_correction(tx: &mut Tx<'_>, club: ClubId, log: &ShotLog) -> Result<bool, StoreError> {
    let corrects: Option<Key> = shot_logs::table
        .find((Key(club.0), Key(log.id.0)))
        .select(shot_logs::corrects_id)
        .get_result(tx.conn())?;
    Ok(corrects.is_some())
}
