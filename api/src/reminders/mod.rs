//! What the club's members were reminded of.

use actix_web::{get, web};
use domain::reminders::Reminder;
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, ListQuery, Query},
    server::Api,
};

/// A reminder.
#[derive(Serialize, ToSchema)]
pub(crate) struct ReminderBody {
    id: Uuid,
    rule_id: Uuid,
    #[schema(example = "wax")]
    task: &'static str,
    part_id: Uuid,
    bow_id: Uuid,
    recipient_member_id: Uuid,
    /// How urgent it was when it was raised.
    #[schema(example = "due")]
    stage: &'static str,
    reason: String,
    /// `raised` until its mail goes out.
    #[schema(example = "raised")]
    state: &'static str,
    #[schema(value_type = String, format = DateTime)]
    raised_at: Timestamp,
    mail_id: Uuid,
}

impl From<Reminder> for ReminderBody {
    fn from(reminder: Reminder) -> Self {
        Self {
            id: reminder.id.0,
            rule_id: reminder.rule_id.0,
            task: reminder.task.as_str(),
            part_id: reminder.part_id.0,
            bow_id: reminder.bow_id.0,
            recipient_member_id: reminder.recipient.0,
            stage: reminder.stage.as_str(),
            reason: reminder.reason,
            state: reminder.state.as_str(),
            raised_at: reminder.raised_at,
            mail_id: reminder.mail_id.0,
        }
    }
}

/// Reminders of the club; an archer sees their own.
#[utoipa::path(
    operation_id = "list_reminders",
    tag = "reminders",
    params(ListQuery),
    responses((status = 200, description = "A page of reminders", body = ListBody<ReminderBody>))
)]
#[get("/reminders")]
pub(crate) async fn list_reminders(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<ListQuery>,
) -> Result<web::Json<ListBody<ReminderBody>>, ApiError> {
    let page = query.0.page()?;
    let only = who.looks_after_others().is_err().then_some(who.member);
    let found = api.store.read(move |read| store::reminders::list(read, who.club, only, page));
    Ok(web::Json(ListBody::of(found.await?, page, |one: &Reminder| one.id.0, ReminderBody::from)))
}
