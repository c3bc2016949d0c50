//! Logging many entries at once: a phone's queue, or a script's day.

use std::{collections::BTreeSet, fmt};

use actix_web::{HttpResponse, post, web};
use domain::{
    clubs::Club,
    ids::{BowId, PartId},
    ledger::ShotLog,
    reach::Reach,
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use store::{
    Read, StoreError, Tx,
    ledger::{Appended, Entry},
};
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};

use super::{
    LogShots, ShotLogBody,
    body::{Under, VOID, flags, states},
    log::id_taken,
};
use crate::{
    answer::Answer,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::{FieldError, Fields},
    object::Object,
    openapi::one_of,
    parts::StateBody,
    server::Api,
};

/// The most entries of a batch.
const MOST: usize = 1_000;

/// Entries to be logged.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LogBatch {
    /// `atomic`: all of them or none. `each`: every entry that can be taken.
    #[schema(schema_with = modes)]
    mode: String,
    #[schema(min_items = 1, max_items = 1000)]
    #[schema(value_type = Vec<LogShots>)]
    entries: Vec<Object<LogShots>>,
}

/// What to do when an entry cannot be taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum BatchMode {
    Atomic,
    Each,
}

impl BatchMode {
    const ALL: [Self; 2] = [Self::Atomic, Self::Each];

    const fn as_str(self) -> &'static str {
        match self {
            Self::Atomic => "atomic",
            Self::Each => "each",
        }
    }

    fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|mode| mode.as_str() == word)
    }
}

impl fmt::Display for BatchMode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

fn modes() -> RefOr<Schema> {
    one_of(BatchMode::ALL.map(BatchMode::as_str))
}

/// What became of a batch.
#[derive(Serialize, ToSchema)]
pub(crate) struct BatchBody {
    /// What became of each entry, in the order they were sent.
    results: Vec<ResultBody>,
    /// What the batch made of every part it counted for.
    parts: Vec<StateBody>,
}

/// What became of an entry.
#[derive(Serialize, ToSchema)]
struct ResultBody {
    #[schema(example = 0)]
    index: usize,
    /// `new`, `again` or `refused`.
    #[schema(example = "new")]
    outcome: &'static str,
    shot_log: Option<ShotLogBody>,
    /// What is odd about it, if anything; it was kept all the same.
    #[schema(example = json!(["no_string_fitted"]))]
    flags: Vec<&'static str>,
    /// Why it was refused; the pointers are into the batch.
    errors: Vec<FieldError>,
}

/// Log up to 1,000 entries.
#[utoipa::path(
    operation_id = "log_batch",
    tag = "shot-logs",
    request_body = LogBatch,
    responses((status = 200, description = "What became of each entry", body = BatchBody))
)]
#[post("/shot-logs/batch")]
pub(crate) async fn log_batch(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<LogBatch>,
) -> Result<HttpResponse, ApiError> {
    let (Body(batch, once), now) = (body, api.now());
    let mut fields = Fields::default();
    let mode = fields.word("/mode", &batch.mode, BatchMode::parse, &BatchMode::ALL);
    let mode = fields.finish(mode)?;
    if !(1..=MOST).contains(&batch.entries.len()) {
        let detail = format!("must have 1 to {MOST} entries, has {}", batch.entries.len());
        return Err(ApiError::Invalid(vec![FieldError::new("/entries", "bad_length", detail)]));
    }
    api.write_once(who, once, move |tx| {
        let club = store::clubs::get(tx, who.club)?;
        let reach = who.reach(tx)?;
        let mut parsed = Vec::with_capacity(batch.entries.len());
        for (index, Object(entry)) in batch.entries.iter().enumerate() {
            parsed.push(parse(tx, (who, &reach), &club, (index, entry), now)?);
        }
        let body = append(tx, &club, parsed, now)?;
        if mode == BatchMode::Atomic {
            let errors: Vec<FieldError> =
                body.results.iter().flat_map(|result| result.errors.iter().cloned()).collect();
            if !errors.is_empty() {
                return Err(ApiError::Invalid(errors));
            }
        }
        Answer::ok(&body)
    })
    .await
}

/// A log, or why its entry cannot be one; whatever is not the entry's fault ends the batch.
type Parsed = Result<ShotLog, Vec<FieldError>>;

fn parse(
    read: &mut Read<'_>,
    (who, reach): (SignedIn, &Reach),
    club: &Club,
    (index, entry): (usize, &LogShots),
    now: Timestamp,
) -> Result<Parsed, ApiError> {
    let mut fields = Fields::below(format!("/entries/{index}"));
    let log = entry.parse(&mut fields, club, who.member, now);
    match store::bows::get(read, club.id, BowId(entry.bow_id)) {
        Ok(bow) if reach.bow(&bow) => {}
        Ok(_) => fields.refuse("/bow_id", "forbidden", "must be a bow you shoot, keep or own"),
        Err(StoreError::NotFound { .. }) => {
            fields.refuse("/bow_id", "unknown_bow", "must be a bow of your club");
        }
        Err(other) => return Err(other.into()),
    }
    match fields.finish(log) {
        Ok(log) => Ok(Ok(log)),
        Err(ApiError::Invalid(errors)) => Ok(Err(errors)),
        Err(other) => Err(other),
    }
}

/// Appends what could be parsed, and says what became of each entry and of the parts it counts for.
fn append(
    tx: &mut Tx<'_>,
    club: &Club,
    parsed: Vec<Parsed>,
    now: Timestamp,
) -> Result<BatchBody, StoreError> {
    let logs: Vec<ShotLog> = parsed.iter().flatten().cloned().collect();
    let entries = store::ledger::append_all(tx, club.id, &logs)?;
    let touched: BTreeSet<PartId> =
        entries.iter().flat_map(|entry| entry.parts.iter().copied()).collect();
    let parts = states(tx, club, &touched.into_iter().collect::<Vec<_>>(), now)?;
    let stopped = store::bow_stops::of_club(tx, club.id)?.into_keys().collect();
    let mut entries = entries.into_iter();
    let mut results = Vec::with_capacity(parsed.len());
    for (index, parsed) in parsed.into_iter().enumerate() {
        let appended = parsed.map(|log| entries.next().map(|entry| (log, entry)));
        results.push(match appended {
            Ok(Some((log, entry))) => {
                ResultBody::of(tx, club, (index, log, entry), (&parts, &stopped))?
            }
            // The store answers an entry to every log, so this is not reached.
            Ok(None) => return Err(StoreError::NotFound { what: "shot log" }),
            Err(errors) => ResultBody::refused(index, errors),
        });
    }
    Ok(BatchBody { results, parts })
}

impl ResultBody {
    fn refused(index: usize, errors: Vec<FieldError>) -> Self {
        Self { index, outcome: "refused", shot_log: None, flags: Vec::new(), errors }
    }

    /// What became of a log that was to be appended; `states` are all parts of the batch, `stopped` all bows
    /// that must not be shot.
    fn of(
        read: &mut Read<'_>,
        club: &Club,
        (index, log, entry): (usize, ShotLog, Entry),
        (states, stopped): (&[StateBody], &BTreeSet<BowId>),
    ) -> Result<Self, StoreError> {
        let under = Under::of(states, &entry.parts, stopped.contains(&log.bow_id));
        let (outcome, log, flags) = match entry.appended {
            Appended::New => ("new", log.clone(), flags(read, club, &log, under)?),
            Appended::Again(before) => {
                let flags = flags(read, club, &before, under)?;
                ("again", before, flags)
            }
            Appended::Void(before) => ("again", before, vec![VOID]),
            Appended::IdTaken => {
                return Ok(Self::refused(index, vec![id_taken(&format!("/entries/{index}/id"))]));
            }
        };
        Ok(Self { index, outcome, shot_log: Some(log.into()), flags, errors: Vec::new() })
    }
}
