//! A calendar, as a calendar program reads it. Its address is the proof, and reading it writes nothing.

use actix_web::{HttpResponse, get, web};
use domain::calendar::Host;

use super::content::calendar;
use crate::{
    auth::token_hash,
    error::ApiError,
    fresh::Known,
    paging::{NoQuery, Query},
    server::Api,
};

const CONTENT_TYPE: &str = "text/calendar; charset=utf-8";

/// A calendar by its address: iCalendar (RFC 5545), the same bytes as long as nothing changed.
///
/// Events stand on their days, work on the days in which it is expected to come due, and a bow that must
/// not be shot on today. Minors are named by their initials where a calendar names others than its owner.
#[utoipa::path(
    operation_id = "read_feed",
    tag = "feeds",
    params(
        ("token" = String, Path, description = "What the calendar's address shows"),
        ("If-None-Match" = Option<String>, Header, description = "The ETag of the answer before")
    ),
    responses(
        (
            status = 200,
            description = "The calendar",
            content_type = "text/calendar",
            body = String,
            example = json!("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Tautline//EN\r\n…")
        ),
        (status = 304, description = "It is as it was")
    ),
    security(())
)]
#[get("/feeds/{token}.ics")]
pub(crate) async fn read_feed(
    api: web::Data<Api>,
    token: web::Path<String>,
    _none: Query<NoQuery>,
    known: Known,
) -> Result<HttpResponse, ApiError> {
    let (hash, now) = (token_hash(&token), api.now());
    let host = Host::of(&api.base_url);
    let found = api.store.read(move |read| {
        let reading = store::feeds::reading(read, &hash)?;
        // Who left and what was revoked is not told from what never was.
        let reading = reading.ok_or_else(|| ApiError::NotFound("no such calendar".to_owned()))?;
        calendar(read, &reading, &host, now)
    });
    Ok(known.answer_text(CONTENT_TYPE, found.await?.to_text()))
}
