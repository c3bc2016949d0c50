//! Taking back a log of shots that were never shot.

use actix_web::{HttpResponse, delete, web};
use domain::{audit::Subject, ids::ShotLogId};
use uuid::Uuid;

use super::{
    LoggedBody, ShotLogBody,
    correct::{correction, to_correct},
};
use crate::{
    answer::Answer,
    audit::Changed,
    auth::SignedIn,
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
    versions::IfMatch,
};

/// Make a log void, for whoever may correct it: it stays on record, counts for nothing, and is listed
/// no more. Sent again by a phone that has not heard of it, it stays void.
#[utoipa::path(
    operation_id = "void_shot_log",
    tag = "shot-logs",
    params(("id" = Uuid, Path, description = "The log")),
    responses((
        status = 200,
        description = "What it said, flagged `void`, and what is left on the parts it counted for",
        body = LoggedBody
    ))
)]
#[delete("/shot-logs/{id}")]
pub(crate) async fn void_log(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let (id, now) = (ShotLogId(id.into_inner()), api.now());
    let done = api.store.write(move |tx| {
        let (log, version) = to_correct(tx, who, id, &of)?;
        let club = store::clubs::get(tx, who.club)?;
        let correction = correction(who, (&log, version), now, true);
        let corrected = store::ledger::correct(tx, who.club, &correction)?;
        let void = Changed::of("void_shot_log", Subject::ShotLog, id.0).about(Some(log.bow_id));
        who.record(tx, now, void.before(&ShotLogBody::from(log.clone()))?)?;
        let body = LoggedBody::void(tx, &club, log, &corrected.touched, now)?;
        Answer::ok(&body)
    });
    Ok(done.await?.respond())
}
