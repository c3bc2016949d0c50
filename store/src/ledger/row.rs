//! How an entry of the ledger is kept.

use diesel::prelude::*;
use domain::{
    ids::{BowId, ClubId, MemberId, ShotLogId},
    ledger::{Correction, LogKind, LogTime, ShotLog, Shots},
    text::Note,
};

use crate::{
    StoreError,
    schema::shot_logs,
    sql_types::{Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = shot_logs, treat_none_as_default_value = false)]
pub(super) struct ShotLogRow {
    club_id: Key,
    pub(super) id: Key,
    pub(super) bow_id: Key,
    pub(super) at: Utc,
    stated_at: Utc,
    date_only: bool,
    skew_s: Option<i64>,
    pub(super) shots: i32,
    kind: String,
    note: String,
    entered_by_member_id: Key,
    received_at: Utc,
    pub(super) corrects_id: Option<Key>,
    pub(super) seq: i32,
    pub(super) void: bool,
    pub(super) counts: bool,
    merged_into_id: Option<Key>,
}

impl ShotLogRow {
    /// A log that corrects none.
    pub(super) fn of(club: ClubId, log: &ShotLog) -> Self {
        Self {
            club_id: Key(club.0),
            id: Key(log.id.0),
            bow_id: Key(log.bow_id.0),
            at: Utc(log.time.at),
            stated_at: Utc(log.time.stated),
            date_only: log.time.date_only,
            skew_s: log.time.skew_s,
            shots: i32::from(log.shots.get()),
            kind: log.kind.as_str().to_owned(),
            note: log.note.as_str().to_owned(),
            entered_by_member_id: Key(log.entered_by.0),
            received_at: Utc(log.received_at),
            corrects_id: None,
            seq: 0,
            void: false,
            counts: true,
            merged_into_id: None,
        }
    }

    /// An entry that corrects a log and becomes its last; it counts unless it makes it void.
    pub(super) fn correcting(club: ClubId, correction: &Correction) -> Self {
        Self {
            corrects_id: Some(Key(correction.corrects.0)),
            // The first entry has 0 and makes version 1.
            seq: correction.version,
            void: correction.void,
            counts: !correction.void,
            merged_into_id: correction.merged_into.map(|log| Key(log.0)),
            ..Self::of(club, &correction.log)
        }
    }

    /// What a log says by this correction of it. Who entered it and when it came is not corrected.
    pub(super) fn speaking_for(self, first: &Self) -> Result<ShotLog, StoreError> {
        let (entered_by_member_id, received_at) = (first.entered_by_member_id, first.received_at);
        Self { id: first.id, entered_by_member_id, received_at, ..self }.try_into()
    }
}

impl TryFrom<ShotLogRow> for ShotLog {
    type Error = StoreError;

    fn try_from(row: ShotLogRow) -> Result<Self, StoreError> {
        let bad = |column, found: String| StoreError::Inconsistent {
            table: "shot_logs",
            column,
            id: row.id.0,
            found,
        };
        Ok(Self {
            id: ShotLogId(row.id.0),
            bow_id: BowId(row.bow_id.0),
            time: LogTime {
                at: row.at.0,
                stated: row.stated_at.0,
                date_only: row.date_only,
                skew_s: row.skew_s,
            },
            shots: Shots::new(row.shots.into())
                .map_err(|_bad| bad("shots", row.shots.to_string()))?,
            kind: LogKind::parse(&row.kind).ok_or_else(|| bad("kind", row.kind.clone()))?,
            note: Note::parse(&row.note).map_err(|_bad| bad("note", row.note.clone()))?,
            entered_by: MemberId(row.entered_by_member_id.0),
            received_at: row.received_at.0,
        })
    }
}
