//! Logging shots.

use actix_web::{HttpResponse, http::StatusCode, post, web};
use store::ledger::Appended;

use super::{LogShots, LoggedBody};
use crate::{
    answer::Answer,
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

/// Log shots. Sent again with the same id and content, it counts once and is answered again, as it
/// stands after whatever was corrected since.
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
    let (Body(body, once), now) = (body, api.now());
    api.write_once(who, once, move |tx| {
        let club = store::clubs::get(tx, who.club)?;
        let mut fields = Fields::default();
        let log = body.parse(&mut fields, &club, who.member, now);
        let log = fields.finish(log)?;
        let bow = store::bows::get(tx, who.club, log.bow_id)?;
        who.may_tend(tx, &bow)?;
        let entry = store::ledger::append(tx, who.club, &log)?;
        let (path, parts) = (format!("/shot-logs/{}", log.id), &entry.parts);
        let (status, body) = match entry.appended {
            Appended::New => (StatusCode::CREATED, LoggedBody::of(tx, &club, log, parts, now)?),
            Appended::Again(before) => {
                (StatusCode::OK, LoggedBody::of(tx, &club, before, parts, now)?)
            }
            Appended::Void(before) => {
                let body = LoggedBody::void(tx, &club, before, parts, now)?;
                return Answer::ok(&body);
            }
            Appended::IdTaken => return Err(ApiError::Invalid(vec![id_taken("/id")])),
        };
        Ok(Answer::of(status, &body)?.at(&path).version(entry.version))
    })
    .await
}
