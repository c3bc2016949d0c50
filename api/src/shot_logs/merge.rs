//! Merging a log that was entered twice into the other one.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    ids::ShotLogId,
    ledger::{Correction, ShotLog},
};
use serde::{Deserialize, Serialize};
use store::{StoreError, Tx};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{
    LoggedBody, ShotLogBody,
    correct::{correction, to_correct},
};
use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, body::Body, error::ApiError,
    fields::FieldError, server::Api, versions::IfMatch,
};

/// Which log is of the same shooting, and stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MergeLog {
    into_id: Uuid,
}

/// What became of a log, for the record of who changed it.
#[derive(Serialize)]
struct Merged {
    #[serde(flatten)]
    log: ShotLogBody,
    merged_into_id: Uuid,
}

/// The log that stays, with its version: another log of the same bow, which counts.
fn staying(
    tx: &mut Tx<'_>,
    who: SignedIn,
    log: &ShotLog,
    into: ShotLogId,
) -> Result<(ShotLog, i32), ApiError> {
    let refused =
        |code, detail| Err(ApiError::Invalid(vec![FieldError::new("/into_id", code, detail)]));
    if into == log.id {
        return refused("same_log", "must be another log");
    }
    match store::ledger::effective_to_merge(tx, who.club, into) {
        Ok((stays, version)) if stays.bow_id == log.bow_id => Ok((stays, version)),
        Ok(_other) => refused("other_bow", "must be a log of the same bow"),
        Err(StoreError::NotFound { .. }) => {
            refused("unknown_log", "must be a log of the same bow that is not void")
        }
        Err(error) => Err(error.into()),
    }
}

/// Say that a log is of the same shooting as another one, for whoever may correct it: it is void from
/// now on and names the other, which counts on as it is.
#[utoipa::path(
    operation_id = "merge_shot_log",
    tag = "shot-logs",
    params(
        ("id" = Uuid, Path, description = "The log that goes"),
        ("If-Match" = String, Header, description = "The ETag that it was read with")
    ),
    request_body = MergeLog,
    responses((
        status = 200,
        description = "The log that stays, and what is left on the parts that either counts for",
        body = LoggedBody
    ))
)]
#[post("/shot-logs/{id}/merge")]
pub(crate) async fn merge_log(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    id: web::Path<Uuid>,
    body: Body<MergeLog>,
) -> Result<HttpResponse, ApiError> {
    let (Body(body, once), now) = (body, api.now());
    let (id, into) = (ShotLogId(id.into_inner()), ShotLogId(body.into_id));
    api.write_once(who, once, move |tx| {
        let (log, version) = to_correct(tx, who, id, &of)?;
        let (stays, stays_in) = staying(tx, who, &log, into)?;
        let void = correction(who, (&log, version), now, true);
        let merged = Correction { merged_into: Some(into), ..void };
        let corrected = store::ledger::correct(tx, who.club, &merged)?;
        let record = Changed::of("merge_shot_log", Subject::ShotLog, id.0);
        let record = record.about(Some(log.bow_id)).before(&ShotLogBody::from(log.clone()))?;
        let after = Merged { log: log.into(), merged_into_id: into.0 };
        who.record(tx, now, record.after(&after)?)?;
        let club = store::clubs::get(tx, who.club)?;
        let parts = store::fittings::under_bow(tx, who.club, stays.bow_id, stays.time.at)?;
        let mut touched = corrected.touched;
        touched.extend(&parts);
        touched.sort_unstable();
        touched.dedup();
        let body = LoggedBody::touching(tx, &club, stays, (&parts, &touched), now)?;
        Ok(Answer::ok(&body)?.version(stays_in))
    })
    .await
}
