//! Reading events. Everybody in the club may.

use actix_web::{HttpResponse, get, web};
use domain::{events::Event, ids::EventId, time::parse_date};
use serde::Deserialize;
use store::{StoreError, events::Which};
use utoipa::IntoParams;
use uuid::Uuid;

use super::body::{EventBody, EventWithEntriesBody};
use crate::{
    auth::SignedIn,
    error::ApiError,
    fields::Fields,
    paging::{ListBody, NoQuery, Query, page},
    server::Api,
    versions::versioned,
};

/// Which events.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct EventsQuery {
    /// Only events that end on this day or after.
    #[param(example = "2026-01-24", format = Date)]
    from: Option<String>,
    /// Those that were called off too.
    called_off: Option<bool>,
    /// How many rows at most; more than 200 means 200.
    #[param(minimum = 1, example = 50)]
    limit: Option<i64>,
    /// The `next_cursor` of the page before.
    cursor: Option<String>,
}

impl EventsQuery {
    fn which(&self) -> Result<Which, ApiError> {
        let mut fields = Fields::default();
        let from = fields.take_if("/from", self.from.as_deref(), parse_date);
        fields.finish(Some(Which { from, called_off: self.called_off.unwrap_or(false) }))
    }
}

/// The club's events, in the order they were entered. Those that were called off are left out, unless
/// they are asked for.
#[utoipa::path(
    operation_id = "list_events",
    tag = "events",
    params(EventsQuery),
    responses((status = 200, description = "A page of events", body = ListBody<EventBody>))
)]
#[get("/events")]
pub(crate) async fn list_events(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<EventsQuery>,
) -> Result<web::Json<ListBody<EventBody>>, ApiError> {
    let Query(query) = query;
    let page = page(query.limit, query.cursor.as_deref())?;
    let which = query.which()?;
    let found = api.store.read(move |read| store::events::list(read, who.club, which, page));
    let events: Vec<Event> = found.await?;
    Ok(web::Json(ListBody::of(events, page, |event| event.id.0, |event| EventBody::from(&event))))
}

/// One event, with who goes to it.
#[utoipa::path(
    operation_id = "get_event",
    tag = "events",
    params(("id" = Uuid, Path, description = "The event")),
    responses((status = 200, description = "The event", body = EventWithEntriesBody))
)]
#[get("/events/{id}")]
pub(crate) async fn get_event(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let id = EventId(id.into_inner());
    let found = api.store.read(move |read| {
        let event = store::events::get(read, who.club, id)?;
        let entries = store::events::entries_of(read, who.club, id)?;
        Ok::<_, StoreError>((event, entries))
    });
    let (event, entries) = found.await?;
    Ok(versioned(&EventWithEntriesBody::of(&event, &entries), event.version))
}
