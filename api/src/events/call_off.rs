//! Calling an event off.

use actix_web::{HttpResponse, delete, web};
use domain::{audit::Subject, ids::EventId};
use uuid::Uuid;

use super::body::{EventBody, refusal};
use crate::{
    audit::Changed,
    auth::SignedIn,
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
    versions::IfMatch,
};

/// Call an event off, for coaches and owners. It can still be read, with its entries.
#[utoipa::path(
    operation_id = "call_off_event",
    tag = "events",
    params(("id" = Uuid, Path, description = "The event")),
    responses((status = 204, description = "Called off"))
)]
#[delete("/events/{id}")]
pub(crate) async fn call_off_event(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let (id, now) = (EventId(id.into_inner()), api.now());
    let called_off = api.store.write(move |tx| {
        let event = store::events::get(tx, who.club, id)?;
        of.check(event.version)?;
        let called_off = Changed::of("call_off_event", Subject::Event, id.0);
        let called_off = called_off.before(&EventBody::from(&event))?;
        let event = event.call_off(now).map_err(refusal)?;
        let event = store::events::change(tx, who.club, &event)?;
        who.record(tx, now, called_off.after(&EventBody::from(&event))?)
    });
    called_off.await?;
    Ok(HttpResponse::NoContent().finish())
}
