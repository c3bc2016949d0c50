//! How a log is written, and what is answered to it.

use domain::{
    clubs::Club,
    ids::{BowId, MemberId, PartId, ShotLogId},
    ledger::{LogKind, LogTime, ShotLog, Shots},
    time::parse_instant,
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use store::{Read, StoreError, fresh_id};
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use crate::{fields::Fields, openapi::one_of, parts::StateBody};

/// Shots to be logged.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LogShots {
    /// A UUID of your own, so that the log can be sent again without counting twice.
    id: Option<Uuid>,
    pub(super) bow_id: Uuid,
    /// A time with an offset, or a date, which stands for noon at the club, or for the moment of
    /// receipt when that is earlier.
    #[schema(example = "2026-01-24T18:30:00+01:00")]
    at: String,
    #[schema(example = 72, minimum = 1, maximum = 2000)]
    shots: i64,
    /// What for; `practice` unless given.
    #[schema(schema_with = kinds)]
    kind: Option<String>,
    /// The sender's own clock when it sends: a clock that is wrong is noticed and put right.
    #[schema(example = "2026-01-24T19:02:00+01:00", format = DateTime)]
    sent_at: Option<String>,
    #[schema(max_length = 2000)]
    note: Option<String>,
}

pub(super) fn kinds() -> RefOr<Schema> {
    one_of(LogKind::ALL.iter().map(|kind| kind.as_str()))
}

impl LogShots {
    /// The log, entered by `member` and received at `now`; none if a field was refused.
    pub(super) fn parse(
        &self,
        fields: &mut Fields,
        club: &Club,
        member: MemberId,
        now: Timestamp,
    ) -> Option<ShotLog> {
        if self.id.is_some_and(|id| id.is_nil()) {
            // It is what an unset variable looks like, and would stand for every such log.
            fields.refuse("/id", "nil_id", "must not be the nil UUID");
        }
        let shots = fields.take("/shots", Shots::new(self.shots));
        let kind = match &self.kind {
            Some(word) => fields.word("/kind", word, LogKind::parse, LogKind::ALL),
            None => Some(LogKind::Practice),
        };
        let note = fields.note("/note", self.note.as_deref());
        let sent_at = match &self.sent_at {
            Some(text) => fields.take("/sent_at", parse_instant(text)).map(Some),
            None => Some(None),
        };
        let time = sent_at.and_then(|sent_at| {
            fields.take("/at", LogTime::settle(&self.at, sent_at, now, &club.zone))
        });
        Some(ShotLog {
            id: self.id.map_or_else(|| fresh_id(now), ShotLogId),
            bow_id: BowId(self.bow_id),
            time: time?,
            shots: shots?,
            kind: kind?,
            note: note?,
            entered_by: member,
            received_at: now,
        })
    }
}

/// A log.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ShotLogBody {
    pub(super) id: Uuid,
    bow_id: Uuid,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// Only the day is known; `at` is noon at the club, or the moment of receipt when that was earlier.
    date_only: bool,
    #[schema(example = 72)]
    shots: u16,
    #[schema(example = "practice")]
    kind: &'static str,
    note: String,
    entered_by_member_id: Uuid,
    #[schema(value_type = String, format = DateTime)]
    received_at: Timestamp,
    /// By how many seconds the sender's clock was ahead, where `at` was moved for it.
    clock_skew_s: Option<i64>,
}

impl From<ShotLog> for ShotLogBody {
    fn from(log: ShotLog) -> Self {
        Self {
            id: log.id.0,
            bow_id: log.bow_id.0,
            at: log.time.at,
            date_only: log.time.date_only,
            shots: log.shots.get(),
            kind: log.kind.as_str(),
            note: log.note.as_str().to_owned(),
            entered_by_member_id: log.entered_by.0,
            received_at: log.received_at,
            clock_skew_s: log.time.skew_s,
        }
    }
}

/// A log, and what it made of every part under its bow at its time; after a correction also of those
/// that it counted for before.
#[derive(Serialize, ToSchema)]
pub(crate) struct LoggedBody {
    shot_log: ShotLogBody,
    parts: Vec<StateBody>,
    /// What is odd about it, if anything; it was kept all the same.
    #[schema(example = json!(["no_string_fitted"]))]
    flags: Vec<&'static str>,
}

impl LoggedBody {
    /// What is answered to a log that is in the ledger now, and counts for these parts.
    pub(super) fn of(
        read: &mut Read<'_>,
        club: &Club,
        log: ShotLog,
        parts: &[PartId],
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        Self::touching(read, club, log, (parts, parts), now)
    }

    /// The same where it touched others too: `touched` are all of them.
    pub(super) fn touching(
        read: &mut Read<'_>,
        club: &Club,
        log: ShotLog,
        (parts, touched): (&[PartId], &[PartId]),
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        let states = states(read, club, touched, now)?;
        let stop = store::bow_stops::of_bow(read, club.id, log.bow_id)?;
        let under = Under::of(&states, parts, stop.is_some());
        Ok(Self { flags: flags(read, club, &log, under)?, shot_log: log.into(), parts: states })
    }

    /// What is answered to a log that is void, and counted for these parts before.
    pub(super) fn void(
        read: &mut Read<'_>,
        club: &Club,
        log: ShotLog,
        touched: &[PartId],
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        let parts = states(read, club, touched, now)?;
        Ok(Self { shot_log: log.into(), parts, flags: vec![VOID] })
    }
}

/// The flag of a log that counts for nothing, whatever it says.
pub(super) const VOID: &str = "void";

/// What these parts are now.
pub(super) fn states(
    read: &mut Read<'_>,
    club: &Club,
    parts: &[PartId],
    now: Timestamp,
) -> Result<Vec<StateBody>, StoreError> {
    let judged = store::due::of_parts(read, club, parts, now)?;
    Ok(judged.into_iter().map(|one| StateBody::of(one, club, now)).collect())
}

/// What was under the bow of a log.
#[derive(Debug, Clone, Copy)]
pub(super) struct Under {
    /// A string.
    strung: bool,
    /// Something that must not be shot, or the bow itself.
    stopped: bool,
}

impl Under {
    /// Of these parts and their bow, as they are now.
    pub(super) fn of(states: &[StateBody], parts: &[PartId], bow_stopped: bool) -> Self {
        let under = || states.iter().filter(|state| parts.contains(&state.id()));
        Self {
            strung: under().any(StateBody::is_string),
            stopped: bow_stopped || under().any(StateBody::is_stopped),
        }
    }
}

/// What is odd about a log that was kept.
pub(super) fn flags(
    read: &mut Read<'_>,
    club: &Club,
    log: &ShotLog,
    under: Under,
) -> Result<Vec<&'static str>, StoreError> {
    let mut flags = Vec::new();
    if under.stopped {
        flags.push("must_not_be_shot");
    }
    if !under.strung {
        flags.push("no_string_fitted");
    }
    if log.time.date_only && changed_that_day(read, club, log)? {
        flags.push("fitting_changed_that_day");
    }
    if log.time.skew_s.is_some() {
        flags.push("clock_skew");
    }
    if log.shots.is_unusual() {
        flags.push("unusually_many_shots");
    }
    if store::ledger::may_be_a_repeat(read, club.id, &club.zone, log)? {
        flags.push("possible_duplicate");
    }
    Ok(flags)
}

/// Whether anything under the bow was fitted or taken off on a log's day.
fn changed_that_day(read: &mut Read<'_>, club: &Club, log: &ShotLog) -> Result<bool, StoreError> {
    let day = club.zone.date_of(log.time.at);
    let Ok((begin, end)) = club.zone.day(day) else { return Ok(false) };
    store::fittings::changed_under_bow(read, club.id, log.bow_id, begin, end)
}
