//! Saying that the work of a reminder was done.

use actix_web::{HttpResponse, post, web};
use domain::ids::ReminderId;
use jiff::Timestamp;
use serde::Deserialize;
use store::{Tx, reminders::Listed};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Given, answer::answered, body::ReminderBody, give, look, look::still_open};
use crate::{
    auth::{NOT_THEIRS, SignedIn},
    body::Body,
    error::ApiError,
    fields::Fields,
    server::Api,
};

/// What is said of it.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct FinishReminder {
    /// When it was done; now, if absent.
    #[schema(example = "2026-01-24T20:00:00Z", format = DateTime)]
    at: Option<String>,
    #[schema(max_length = 2000)]
    note: Option<String>,
}

impl FinishReminder {
    fn parse(&self, now: Timestamp) -> Result<Given, ApiError> {
        let mut fields = Fields::default();
        let at = match self.at.as_deref() {
            Some(at) => fields.past("/at", at, now),
            None => Some(now),
        };
        let note = fields.note("/note", self.note.as_deref());
        let built = at.zip(note).map(|(at, note)| Given::Done { at, note });
        fields.finish(built)
    }
}

/// Say that the work of a reminder was done: it is put on record as `POST /upkeep` does, and lifts no stop.
/// For its recipient, and for whoever may look after the bow. A change of string is recorded at its bow.
#[utoipa::path(
    operation_id = "finish_reminder",
    tag = "reminders",
    params(("id" = Uuid, Path, description = "The reminder")),
    request_body = FinishReminder,
    responses((status = 200, description = "On record", body = ReminderBody))
)]
#[post("/reminders/{id}/done")]
pub(crate) async fn finish_reminder(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: Body<FinishReminder>,
) -> Result<HttpResponse, ApiError> {
    let (Body(body, once), id, now) = (body, ReminderId(id.into_inner()), api.now());
    api.write_once(who, once, move |tx| {
        let given = body.parse(now)?;
        let listed = store::answers::get_to_answer(tx, who.club, id)?;
        within_reach(tx, who, &listed)?;
        let open = still_open(look(tx, who, listed, now)?)?;
        give(tx, who, &open, given, now, "finish_reminder")?;
        answered(tx, who, id)
    })
    .await
}

/// Passes a reminder to somebody within reach, or about a bow that is.
fn within_reach(tx: &mut Tx<'_>, who: SignedIn, listed: &Listed) -> Result<(), ApiError> {
    let reach = who.reach(tx)?;
    if reach.member(listed.reminder.recipient) {
        return Ok(());
    }
    let Some(bow) = listed.reminder.about.bow() else { return Err(NOT_THEIRS) };
    let bow = store::bows::get(tx, who.club, bow)?;
    if reach.bow(&bow) { Ok(()) } else { Err(NOT_THEIRS) }
}
