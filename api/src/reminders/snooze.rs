//! Putting a reminder off.

use actix_web::{HttpResponse, post, web};
use domain::{ids::ReminderId, mail::SNOOZE_DAYS};
use jiff::{SignedDuration, Timestamp};
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
use crate::{auth::SignedIn, body::Body, error::ApiError, fields::Fields, server::Api};

/// The most days for which it can be put off; ours, no source.
const MOST_DAYS: i64 = 14;

/// For how long.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SnoozeReminder {
    /// 3, if absent.
    #[schema(example = 3, minimum = 1, maximum = 14)]
    days: Option<i64>,
}

impl SnoozeReminder {
    fn parse(&self, now: Timestamp) -> Result<Given, ApiError> {
        let mut fields = Fields::default();
        let days = self.days.unwrap_or(SNOOZE_DAYS);
        if !(1..=MOST_DAYS).contains(&days) {
            fields.refuse("/days", "out_of_range", "must be 1 to 14");
        }
        let built = put_off(now, days).map(|until| Given::Snooze { until });
        fields.finish(built)
    }
}

/// So many days of 24 hours later.
pub(crate) fn put_off(now: Timestamp, days: i64) -> Option<Timestamp> {
    now.checked_add(SignedDuration::from_hours(24 * days.clamp(1, MOST_DAYS))).ok()
}

/// Put a reminder off: its recipient hears no more of the same work until then, however urgent it becomes,
/// and again if it is still to be done. That a bow must not be shot cannot be put off.
#[utoipa::path(
    operation_id = "snooze_reminder",
    tag = "reminders",
    params(("id" = Uuid, Path, description = "The reminder")),
    request_body = SnoozeReminder,
    responses((status = 200, description = "Put off", body = ReminderBody))
)]
#[post("/reminders/{id}/snooze")]
pub(crate) async fn snooze_reminder(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: Body<SnoozeReminder>,
) -> Result<HttpResponse, ApiError> {
    let (Body(body, once), id, now) = (body, ReminderId(id.into_inner()), api.now());
    api.write_once(who, once, move |tx| {
        let given = body.parse(now)?;
        let listed = store::answers::get_to_answer(tx, who.club, id)?;
        to_them(who, &listed)?;
        let open = still_open(look(tx, who, listed, now)?)?;
        give(tx, who, &open, given, now, "snooze_reminder")?;
        answered(tx, who, id)
    })
    .await
}
