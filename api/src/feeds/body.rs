//! Calendars, as they are answered.

use domain::calendar::{Feed, FeedScope};
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::openapi::one_of;

/// A calendar to subscribe to, without its address.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FeedBody {
    id: Uuid,
    #[schema(example = "Phone")]
    name: String,
    #[schema(schema_with = scopes)]
    scope: &'static str,
    #[schema(value_type = String, format = DateTime)]
    created_at: Timestamp,
}

/// A calendar that was made.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct MadeFeedBody {
    #[serde(flatten)]
    of: FeedBody,
    /// Its address, for a program that asks for one. Whoever has it reads the calendar without signing
    /// in. It is told this once: a repeated request is answered with null.
    #[schema(example = "https://club.example/api/v1/feeds/tlf_ZXhhbXBsZSBvZiBhbiBhZGRyZXNz.ics")]
    url: Option<String>,
    /// The same as a link that opens a calendar program.
    #[schema(example = "webcal://club.example/api/v1/feeds/tlf_ZXhhbXBsZSBvZiBhbiBhZGRyZXNz.ics")]
    webcal_url: Option<String>,
}

impl MadeFeedBody {
    /// A calendar with its address, if that is to be shown.
    pub(crate) fn of(feed: &Feed, url: Option<String>) -> Self {
        let rest = url.as_deref().and_then(|url| url.split_once("://"));
        let webcal_url = rest.map(|(_, rest)| format!("webcal://{rest}"));
        Self { of: feed.into(), url, webcal_url }
    }
}

impl From<&Feed> for FeedBody {
    fn from(feed: &Feed) -> Self {
        Self {
            id: feed.id.0,
            name: feed.name.to_string(),
            scope: feed.scope.as_str(),
            created_at: feed.created_at,
        }
    }
}

/// Every scope.
pub(crate) fn scopes() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
    one_of(FeedScope::ALL.iter().map(|scope| scope.as_str()))
}
