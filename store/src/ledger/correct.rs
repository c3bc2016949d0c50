//! Corrections: entries that say what a log should have said.

use std::collections::BTreeSet;

use diesel::prelude::*;
use domain::{
    ids::{ClubId, PartId},
    ledger::{Correction, ShotLog},
};

use super::{chain::Chain, row::ShotLogRow};
use crate::{
    StoreError, Tx, bow_days, bows, clubs,
    dialect::{self, Hold},
    error::changed_once,
    fittings,
    schema::shot_logs,
    sql_types::Key,
    wear::{self, Shift},
};

/// What a correction came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Corrected {
    /// In which version the log is now.
    pub version: i32,
    /// The parts that it counts for now, by id; none if it is void.
    pub parts: Vec<PartId>,
    /// These and the ones it counted for before, by id.
    pub touched: Vec<PartId>,
}

/// Appends a correction: its log counts from now on, where it says and when, and what the log said
/// before counts no longer. A conflict, if the log was corrected since the version named.
///
/// # Errors
/// No such log, or one that is void; no such bow; changed meanwhile; or the database.
pub fn correct(
    tx: &mut Tx<'_>,
    club: ClubId,
    correction: &Correction,
) -> Result<Corrected, StoreError> {
    let Correction { corrects, version, ref log, void, merged_into: _ } = *correction;
    dialect::hold(tx, club, Hold::Shared)?;
    dialect::hold_log(tx, club, corrects)?;
    let chain = Chain::of(tx, club, corrects)?;
    let (present, last) = (chain.version(), chain.last_key());
    let before = chain.says_now()?.ok_or(StoreError::NotFound { what: "shot log" })?;
    if version != present {
        return Err(StoreError::Changed);
    }
    bows::get(tx, club, log.bow_id)?;
    let no_longer = diesel::update(shot_logs::table.find((Key(club.0), last)))
        .set(shot_logs::counts.eq(false))
        .execute(tx.conn())?;
    changed_once(no_longer)?;
    diesel::insert_into(shot_logs::table)
        .values(ShotLogRow::correcting(club, correction))
        .execute(tx.conn())?;

    let counted = fittings::under_bow(tx, club, before.bow_id, before.time.at)?;
    let parts =
        if void { Vec::new() } else { fittings::under_bow(tx, club, log.bow_id, log.time.at)? };
    wear::shift(tx, club, &[Shift::back(&counted, &before), Shift::on(&parts, log)])?;
    let zone = clubs::zone(tx, club)?;
    let added: &[&ShotLog] = if void { &[] } else { &[log] };
    bow_days::shift(tx, club, bow_days::of_logs(&zone, added, &[&before]))?;
    let touched: BTreeSet<PartId> = counted.into_iter().chain(parts.iter().copied()).collect();
    Ok(Corrected { version: present + 1, parts, touched: touched.into_iter().collect() })
}
