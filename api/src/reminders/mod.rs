//! What the club's members were reminded of.

use actix_web::{get, web};
use domain::reminders::{About, Reminder};
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
    /// What it is about: `maintenance`, `stop` or `event`.
    #[schema(example = "maintenance")]
    kind: &'static str,
    rule_id: Option<Uuid>,
    #[schema(example = "wax")]
    task: Option<&'static str>,
    part_id: Option<Uuid>,
    bow_id: Option<Uuid>,
    event_id: Option<Uuid>,
    recipient_member_id: Uuid,
    /// How urgent it was when it was raised: a condition, or the days before an event.
    #[schema(example = "due")]
    stage: String,
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
        let about = reminder.about;
        let (rule, task, event) = match about {
            About::Work { rule, task, .. } => (Some(rule.0), Some(task.as_str()), None),
            About::Stop { .. } | About::BowStop { .. } | About::Bench | About::Silence { .. } => {
                (None, None, None)
            }
            About::Event { event, .. } => (None, None, Some(event.0)),
        };
        Self {
            id: reminder.id.0,
            kind: about.kind(),
            rule_id: rule,
            task,
            part_id: about.part().map(|part| part.0),
            bow_id: about.bow().map(|bow| bow.0),
            event_id: event,
            recipient_member_id: reminder.recipient.0,
            stage: reminder.stage,
            reason: reminder.reason,
            state: reminder.state.as_str(),
            raised_at: reminder.raised_at,
            mail_id: reminder.mail_id.0,
        }
    }
}

/// Reminders of the club to whom one reaches: an owner sees all, a coach their own and those of their
/// archers, an archer their own.
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
    let found = api.store.read(move |read| {
        let reach = who.reach(read)?;
        store::reminders::list(read, who.club, &reach, page)
    });
    Ok(web::Json(ListBody::of(found.await?, page, |one: &Reminder| one.id.0, ReminderBody::from)))
}
