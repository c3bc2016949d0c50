//! Putting right what a log says.

use actix_web::{HttpResponse, patch, web};
use domain::{
    audit::Subject,
    clubs::Club,
    ids::{BowId, ShotLogId},
    ledger::{Correction, LogKind, LogTime, ShotLog, Shots},
    members::Role,
    text::Note,
};
use jiff::Timestamp;
use serde::Deserialize;
use store::{Tx, fresh_id};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{LoggedBody, ShotLogBody, body::kinds};
use crate::{
    answer::Answer,
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::Fields,
    patch::{Clearable, change, replacement, stays},
    server::Api,
    versions::IfMatch,
};

/// What a log should have said, as a merge patch: what is absent stays as it is.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CorrectLog {
    #[serde(default, deserialize_with = "replacement")]
    #[schema(nullable = false)]
    bow_id: Option<Uuid>,
    /// A time with an offset, or a date, which stands for noon at the club, or for the moment of
    /// receipt when that is earlier.
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "2026-01-24T18:30:00+01:00", nullable = false)]
    at: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = 60, minimum = 1, maximum = 2000, nullable = false)]
    shots: Option<i64>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(schema_with = kinds)]
    kind: Option<String>,
    /// Null means none.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<String>, max_length = 2000)]
    note: Clearable<String>,
}

impl CorrectLog {
    /// The log as it should have been.
    fn apply(self, before: &ShotLog, club: &Club, now: Timestamp) -> Result<ShotLog, ApiError> {
        let mut fields = Fields::default();
        let time = stays(self.at, &before.time, |at| {
            fields.take("/at", LogTime::settle(&at, None, now, &club.zone))
        });
        let shots = stays(self.shots, &before.shots, |n| fields.take("/shots", Shots::new(n)));
        let kind = stays(self.kind, &before.kind, |word| {
            fields.word("/kind", &word, LogKind::parse, LogKind::ALL)
        });
        let note: Option<Note> =
            stays(self.note, &before.note, |note| fields.note("/note", note.as_deref()));
        let bow_id = self.bow_id.map_or(before.bow_id, BowId);
        let built = || {
            let (time, shots, kind, note) = (time?, shots?, kind?, note?);
            Some(ShotLog { bow_id, time, shots, kind, note, ..before.clone() })
        };
        fields.finish(built())
    }
}

/// Correct a log: for whoever entered it, for the coach of whose bow it is, and for owners of the
/// club. What it said before stays on record and counts no longer. A patch that changes nothing writes
/// nothing.
#[utoipa::path(
    operation_id = "correct_shot_log",
    tag = "shot-logs",
    params(("id" = Uuid, Path, description = "The log")),
    request_body = CorrectLog,
    responses((
        status = 200,
        description = "Corrected, with what that made of the parts it counted for and counts for now",
        body = LoggedBody
    ))
)]
#[patch("/shot-logs/{id}")]
pub(crate) async fn correct_log(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    id: web::Path<Uuid>,
    body: Body<CorrectLog>,
) -> Result<HttpResponse, ApiError> {
    let (id, now, body) = (ShotLogId(id.into_inner()), api.now(), body.0);
    let corrected = api.store.write(move |tx| {
        let (before, version) = to_correct(tx, who, id, &of)?;
        let club = store::clubs::get(tx, who.club)?;
        let after = body.apply(&before, &club, now)?;
        let bow = store::bows::get(tx, who.club, after.bow_id)?;
        who.may_tend(tx, &bow)?;
        if after == before {
            let parts = store::fittings::under_bow(tx, who.club, after.bow_id, after.time.at)?;
            let body = LoggedBody::of(tx, &club, after, &parts, now)?;
            return Ok::<_, ApiError>(Answer::ok(&body)?.version(version));
        }
        let correction = correction(who, (&after, version), now, false);
        let corrected = store::ledger::correct(tx, who.club, &correction)?;
        let changed = Changed::of("correct_shot_log", Subject::ShotLog, id.0);
        let changed = changed.about(Some(before.bow_id)).before(&ShotLogBody::from(before))?;
        who.record(tx, now, changed.after(&ShotLogBody::from(after.clone()))?)?;
        let parts = (&*corrected.parts, &*corrected.touched);
        let body = LoggedBody::touching(tx, &club, after, parts, now)?;
        Ok(Answer::ok(&body)?.version(corrected.version))
    });
    Ok(corrected.await?.respond())
}

/// A log that somebody may correct, in the version that they name.
pub(super) fn to_correct(
    tx: &mut Tx<'_>,
    who: SignedIn,
    log: ShotLogId,
    of: &IfMatch,
) -> Result<(ShotLog, i32), ApiError> {
    let (log, version) = store::ledger::effective(tx, who.club, log)?;
    let bow = store::bows::get(tx, who.club, log.bow_id)?;
    who.may_tend(tx, &bow)?;
    if who.role == Role::Archer && log.entered_by != who.member {
        return Err(ApiError::Forbidden(
            "this is for who entered the log, for the coach of whose bow it is, and for owners of \
             the club",
        ));
    }
    of.check(version)?;
    Ok((log, version))
}

/// The entry that corrects a log from what it said in that version.
pub(super) fn correction(
    who: SignedIn,
    (after, version): (&ShotLog, i32),
    now: Timestamp,
    void: bool,
) -> Correction {
    let (id, entered_by, received_at) = (fresh_id(now), who.member, now);
    let log = ShotLog { id, entered_by, received_at, ..after.clone() };
    Correction { corrects: after.id, version, log, void, merged_into: None }
}
