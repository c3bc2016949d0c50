//! A log and the last of its corrections.

use diesel::prelude::*;
use domain::{
    ids::{ClubId, ShotLogId},
    ledger::ShotLog,
};

use super::row::ShotLogRow;
use crate::{Read, StoreError, schema::shot_logs, sql_types::Key};

/// A log as it was appended, and the last of its corrections if it has any.
pub(super) struct Chain {
    first: ShotLogRow,
    last: Option<ShotLogRow>,
}

impl Chain {
    /// The chain of a log. A correction's own id stands for no log.
    pub(super) fn of(
        read: &mut Read<'_>,
        club: ClubId,
        log: ShotLogId,
    ) -> Result<Self, StoreError> {
        let first: ShotLogRow = shot_logs::table
            .find((Key(club.0), Key(log.0)))
            .filter(shot_logs::corrects_id.is_null())
            .select(ShotLogRow::as_select())
            .get_result(read.conn())
            .optional()?
            .ok_or(StoreError::NotFound { what: "shot log" })?;
        let last = if first.counts { None } else { last_correction(read, club, log)? };
        Ok(Self { first, last })
    }

    /// One more than its corrections.
    pub(super) fn version(&self) -> i32 {
        self.last().seq + 1
    }

    /// Under which key its last entry is kept.
    pub(super) fn last_key(&self) -> Key {
        self.last().id
    }

    fn last(&self) -> &ShotLogRow {
        self.last.as_ref().unwrap_or(&self.first)
    }

    /// The log as it was appended.
    pub(super) fn into_appended(self) -> Result<ShotLog, StoreError> {
        self.first.try_into()
    }

    /// What the log says now; nothing if it is void.
    pub(super) fn says_now(self) -> Result<Option<ShotLog>, StoreError> {
        let Self { first, last } = self;
        match last {
            None => first.try_into().map(Some),
            Some(last) if last.void => Ok(None),
            Some(last) => last.speaking_for(&first).map(Some),
        }
    }
}

fn last_correction(
    read: &mut Read<'_>,
    club: ClubId,
    log: ShotLogId,
) -> Result<Option<ShotLogRow>, StoreError> {
    let of_it = shot_logs::club_id
        .eq(Key(club.0))
        .and(shot_logs::corrects_id.eq(Key(log.0)).assume_not_null());
    Ok(shot_logs::table
        .filter(of_it)
        .select(ShotLogRow::as_select())
        .order(shot_logs::seq.desc())
        .first(read.conn())
        .optional()?)
}
