//! Entering an event into the club's calendar.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    events::{Event, Priority, arrows_expected},
    ids::{EventId, MemberId},
    time::parse_date,
};
use jiff::Timestamp;
use serde::Deserialize;
use store::fresh_id;
use utoipa::ToSchema;

use super::body::{EventWithEntriesBody, blocked_days, dates, priorities};
use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, body::Body, error::ApiError, fields::Fields,
    server::Api,
};

/// An event to be entered. It may be over already.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AddEvent {
    #[schema(example = "Invented Cup", max_length = 200)]
    name: String,
    #[schema(example = "2026-01-24", format = Date)]
    starts_on: String,
    /// At most 60 days after `starts_on`.
    #[schema(example = "2026-01-25", format = Date)]
    ends_on: String,
    #[schema(schema_with = priorities)]
    priority: String,
    /// How many arrows each archer is expected to shoot at it.
    #[schema(example = 144, minimum = 0, maximum = 5000)]
    arrows_expected: i64,
    /// Days on which nothing is changed on a bow: from 60 days before `starts_on` to `ends_on`.
    #[serde(default)]
    #[schema(example = json!(["2026-01-23"]), max_items = 60)]
    blocked_days: Vec<String>,
}

impl AddEvent {
    fn parse(&self, by: MemberId, now: Timestamp) -> Result<Event, ApiError> {
        let mut fields = Fields::default();
        let name = fields.name("/name", &self.name);
        let starts_on = fields.take("/starts_on", parse_date(&self.starts_on));
        let ends_on = fields.take("/ends_on", parse_date(&self.ends_on));
        let dates = dates(&mut fields, starts_on, ends_on);
        let priority = fields.word("/priority", &self.priority, Priority::parse, Priority::ALL);
        let arrows = fields.take("/arrows_expected", arrows_expected(self.arrows_expected));
        let blocked_days = blocked_days(&mut fields, &self.blocked_days, dates);
        let built = || {
            Some(Event {
                id: fresh_id::<EventId>(now),
                name: name?,
                dates: dates?,
                priority: priority?,
                arrows_expected: arrows?,
                blocked_days: blocked_days?,
                version: 1,
                cancelled_at: None,
                created_by: by,
                created_at: now,
                changed_at: now,
            })
        };
        fields.finish(built())
    }
}

/// Enter an event into the club's calendar, for coaches and owners.
#[utoipa::path(
    operation_id = "add_event",
    tag = "events",
    request_body = AddEvent,
    responses((status = 201, description = "Entered", body = EventWithEntriesBody))
)]
#[post("/events")]
pub(crate) async fn add_event(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<AddEvent>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let (Body(body, once), now) = (body, api.now());
    api.write_once(who, once, move |tx| {
        let event = body.parse(who.member, now)?;
        store::events::add(tx, who.club, &event)?;
        let path = format!("/events/{}", event.id);
        let body = EventWithEntriesBody::of(&event, &[]);
        let added = Changed::of("add_event", Subject::Event, event.id.0);
        who.record(tx, now, added.after(&body)?)?;
        Ok(Answer::created(&body)?.at(&path).version(event.version))
    })
    .await
}
