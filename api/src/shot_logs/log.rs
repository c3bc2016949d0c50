//! Logging shots.

use actix_web::{HttpResponse, post, web};
use store::ledger::Appended;

use super::{LogShots, LoggedBody};
use crate::{
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::{FieldError, Fields},
    server::Api,
};

/// Why a log with a used id is refused.
pub(super) fn id_taken(pointer: &str) -> FieldError {
    FieldError::new(pointer, "id_taken", "another log with other content has this id")
}

/// Log shots. Sent again with the same id and content, it counts once and is answered again.
#[utoipa::path(
    operation_id = "log_shots",
    tag = "shot-logs",
    request_body = LogShots,
    responses(
        (status = 201, description = "Logged", body = LoggedBody),
        (status = 200, description = "Was logged before; nothing was counted", body = LoggedBody)
    )
)]
#[post("/shot-logs")]
pub(crate) async fn log_shots(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<LogShots>,
) -> Result<HttpResponse, ApiError> {
    let (Body(body), now) = (body, api.now());
    let (new, answer) = api
        .store
        .write(move |tx| {
            let club = store::clubs::get(tx, who.club)?;
            let mut fields = Fields::default();
            let log = body.parse(&mut fields, &club, who.member, now);
            let log = fields.finish(log)?;
            who.may_tend(&store::bows::get(tx, who.club, log.bow_id)?)?;
            let entry = store::ledger::append(tx, who.club, &log)?;
            let (new, log) = match &entry.appended {
                Appended::New => (true, log),
                Appended::Again(before) => (false, before.clone()),
                Appended::IdTaken(_) => return Err(ApiError::Invalid(vec![id_taken("/id")])),
            };
            Ok((new, LoggedBody::of(tx, &club, log, &entry, now)?))
        })
        .await?;
    let mut response = if new { HttpResponse::Created() } else { HttpResponse::Ok() };
    Ok(response.json(answer))
}
