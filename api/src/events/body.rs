//! How an event is written, and taking its dates and days from a body.

use std::collections::BTreeSet;

use domain::{
    events::{Entry, Event, EventDates, EventError, MOST_BLOCKED_DAYS, Priority},
    time::parse_date,
};
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use crate::{
    error::ApiError,
    fields::{Coded, Fields},
    openapi::one_of,
};

/// An event.
#[derive(Serialize, ToSchema)]
pub(crate) struct EventBody {
    pub(super) id: Uuid,
    #[schema(example = "Invented Cup")]
    name: String,
    /// Its first day, by the club's calendar.
    #[schema(value_type = String, format = Date, example = "2026-01-24")]
    starts_on: Date,
    /// Its last day.
    #[schema(value_type = String, format = Date, example = "2026-01-25")]
    ends_on: Date,
    /// Strings and servings are left alone for a while before a `major` or `regular` one.
    #[schema(example = "major")]
    priority: &'static str,
    /// How many arrows each archer is expected to shoot at it.
    #[schema(example = 144)]
    arrows_expected: u16,
    /// Days on which nothing is changed on a bow, such as those of the journey.
    #[schema(value_type = Vec<String>, example = json!(["2026-01-23"]))]
    blocked_days: BTreeSet<Date>,
    /// When it was called off; null means that it was not.
    #[schema(value_type = Option<String>, format = DateTime)]
    cancelled_at: Option<Timestamp>,
    created_by_member_id: Uuid,
    #[schema(value_type = String, format = DateTime)]
    created_at: Timestamp,
}

impl From<&Event> for EventBody {
    fn from(event: &Event) -> Self {
        Self {
            id: event.id.0,
            name: event.name.to_string(),
            starts_on: event.dates.starts_on(),
            ends_on: event.dates.ends_on(),
            priority: event.priority.as_str(),
            arrows_expected: event.arrows_expected,
            blocked_days: event.blocked_days.clone(),
            cancelled_at: event.cancelled_at,
            created_by_member_id: event.created_by.0,
            created_at: event.created_at,
        }
    }
}

/// Who goes with which bow.
#[derive(Serialize, ToSchema)]
#[expect(clippy::struct_field_names, reason = "the names of the document, all of which are ids")]
pub(crate) struct EntryBody {
    member_id: Uuid,
    bow_id: Uuid,
    /// The string that lies in the case; null means none.
    spare_part_id: Option<Uuid>,
}

impl From<&Entry> for EntryBody {
    fn from(entry: &Entry) -> Self {
        Self {
            member_id: entry.member.0,
            bow_id: entry.bow.0,
            spare_part_id: entry.spare.map(|part| part.0),
        }
    }
}

/// An event and who goes to it.
#[derive(Serialize, ToSchema)]
pub(crate) struct EventWithEntriesBody {
    #[serde(flatten)]
    event: EventBody,
    /// By member and bow.
    entries: Vec<EntryBody>,
}

impl EventWithEntriesBody {
    pub(super) fn of(event: &Event, entries: &[Entry]) -> Self {
        Self { event: event.into(), entries: entries.iter().map(EntryBody::from).collect() }
    }
}

impl Coded for EventError {
    fn code(&self) -> &'static str {
        match self {
            Self::EndsBeforeItStarts => "ends_before_it_starts",
            Self::TooLong => "too_long",
            Self::Arrows | Self::BlockedDay => "out_of_range",
            Self::BlockedDays | Self::Entries => "too_many",
            Self::EnteredTwice => "duplicate",
            Self::CalledOff(_) => "called_off",
        }
    }
}

/// Passes an event that may still be changed.
pub(super) fn not_called_off(event: &Event) -> Result<(), ApiError> {
    event.on().map_err(refusal)
}

/// Why an event that was called off is left as it is.
pub(super) fn refusal(error: EventError) -> ApiError {
    ApiError::Conflict { code: error.code(), detail: error.to_string() }
}

pub(super) fn priorities() -> RefOr<Schema> {
    one_of(Priority::ALL.iter().map(|priority| priority.as_str()))
}

/// The dates of an event.
pub(super) fn dates(
    fields: &mut Fields,
    starts_on: Option<Date>,
    ends_on: Option<Date>,
) -> Option<EventDates> {
    fields.take("/ends_on", EventDates::new(starts_on?, ends_on?))
}

/// The days that are blocked for an event of these dates.
pub(super) fn blocked_days(
    fields: &mut Fields,
    given: &[String],
    dates: Option<EventDates>,
) -> Option<BTreeSet<Date>> {
    if given.len() > MOST_BLOCKED_DAYS {
        return fields.take("/blocked_days", Err(EventError::BlockedDays));
    }
    let mut days = Some(BTreeSet::new());
    for (place, text) in given.iter().enumerate() {
        let pointer = format!("/blocked_days/{place}");
        let day = fields.take(&pointer, parse_date(text));
        let day = day.zip(dates).and_then(|(day, dates)| fields.take(&pointer, dates.block(day)));
        match (day, &mut days) {
            (Some(day), Some(days)) => drop(days.insert(day)),
            _ => days = None,
        }
    }
    days
}
