//! Changing an event.

use actix_web::{HttpResponse, patch, web};
use domain::{
    audit::Subject,
    events::{Event, Priority, arrows_expected},
    ids::EventId,
    time::parse_date,
};
use jiff::Timestamp;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::body::{
    EventBody, EventWithEntriesBody, blocked_days, dates, not_called_off, priorities,
};
use crate::{
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::Fields,
    patch::{Clearable, change, replacement, stays, stays_or_clears},
    server::Api,
    versions::{IfMatch, versioned},
};

/// Changes of an event, as a merge patch: what is absent stays as it is; a list is replaced as a whole.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeEvent {
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "Invented Cup", max_length = 200)]
    name: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "2026-01-24", format = Date)]
    starts_on: Option<String>,
    /// At most 60 days after `starts_on`.
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "2026-01-25", format = Date)]
    ends_on: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(schema_with = priorities)]
    priority: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = 144, minimum = 0, maximum = 5000)]
    arrows_expected: Option<i64>,
    /// Null means none. Those that stay must fit the dates too.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<Vec<String>>, example = json!(["2026-01-23"]), max_items = 60)]
    blocked_days: Clearable<Vec<String>>,
}

impl ChangeEvent {
    /// The event as it is afterwards.
    fn apply(self, before: &Event, now: Timestamp) -> Result<Event, ApiError> {
        let mut fields = Fields::default();
        let name = stays(self.name, &before.name, |text| fields.name("/name", &text));
        let starts_on = stays(self.starts_on, &before.dates.starts_on(), |text| {
            fields.take("/starts_on", parse_date(&text))
        });
        let ends_on = stays(self.ends_on, &before.dates.ends_on(), |text| {
            fields.take("/ends_on", parse_date(&text))
        });
        let dates = dates(&mut fields, starts_on, ends_on);
        let priority = stays(self.priority, &before.priority, |word| {
            fields.word("/priority", &word, Priority::parse, Priority::ALL)
        });
        let arrows = stays(self.arrows_expected, &before.arrows_expected, |count| {
            fields.take("/arrows_expected", arrows_expected(count))
        });
        let stay = self.blocked_days.is_none();
        let days = stays_or_clears(self.blocked_days, Some(&before.blocked_days), |given| {
            blocked_days(&mut fields, &given, dates)
        });
        if let Some(dates) = dates.filter(|_| stay) {
            let outside = before.blocked_days.iter().find_map(|day| dates.block(*day).err());
            fields.take("/blocked_days", outside.map_or(Ok(()), Err));
        }
        let built = || {
            Some(Event {
                name: name?,
                dates: dates?,
                priority: priority?,
                arrows_expected: arrows?,
                blocked_days: days?.unwrap_or_default(),
                changed_at: now,
                ..before.clone()
            })
        };
        fields.finish(built())
    }
}

/// Change an event, for coaches and owners. One that was called off stays as it is.
#[utoipa::path(
    operation_id = "change_event",
    tag = "events",
    params(("id" = Uuid, Path, description = "The event")),
    request_body = ChangeEvent,
    responses((status = 200, description = "Changed", body = EventWithEntriesBody))
)]
#[patch("/events/{id}")]
pub(crate) async fn change_event(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    id: web::Path<Uuid>,
    body: Body<ChangeEvent>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let (id, body, now) = (EventId(id.into_inner()), body.0, api.now());
    let changed = api.store.write(move |tx| {
        let before = store::events::get(tx, who.club, id)?;
        of.check(before.version)?;
        not_called_off(&before)?;
        let after = store::events::change(tx, who.club, &body.apply(&before, now)?)?;
        let entries = store::events::entries_of(tx, who.club, id)?;
        let changed = Changed::of("change_event", Subject::Event, id.0);
        let changed = changed.before(&EventBody::from(&before))?.after(&EventBody::from(&after))?;
        who.record(tx, now, changed)?;
        Ok::<_, ApiError>((after, entries))
    });
    let (event, entries) = changed.await?;
    Ok(versioned(&EventWithEntriesBody::of(&event, &entries), event.version))
}
