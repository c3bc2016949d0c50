//! Saying of the bow of a reminder that somebody else looks after it.

use actix_web::{HttpResponse, post, web};
use domain::ids::ReminderId;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{
    Given,
    answer::answered,
    body::ReminderBody,
    give, look,
    look::{still_open, to_them},
};
use crate::{auth::SignedIn, body::Body, error::ApiError, server::Api};

/// Nothing has to be said.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DisownBow {}

/// Say that the bow of a reminder is not one's own to look after: no reminder of its work comes any more,
/// and coaches and owners see it. Owners of the club are still reminded where nobody else would be. Notices
/// that it must not be shot still come, and what it needs before an event to whoever goes there with it. It
/// counts until the people of the bow are set anew.
#[utoipa::path(
    operation_id = "disown_bow",
    tag = "reminders",
    params(("id" = Uuid, Path, description = "The reminder")),
    request_body = DisownBow,
    responses((status = 200, description = "On record", body = ReminderBody))
)]
#[post("/reminders/{id}/not-my-bow")]
pub(crate) async fn disown_bow(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: Body<DisownBow>,
) -> Result<HttpResponse, ApiError> {
    let (Body(DisownBow {}, once), id, now) = (body, ReminderId(id.into_inner()), api.now());
    api.write_once(who, once, move |tx| {
        let listed = store::answers::get_to_answer(tx, who.club, id)?;
        to_them(who, &listed)?;
        let open = still_open(look(tx, who, listed, now)?)?;
        give(tx, who, &open, Given::NotMine, now, "disown_bow")?;
        answered(tx, who, id)
    })
    .await
}
