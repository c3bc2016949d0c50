//! Setting who goes to an event.

use actix_web::{HttpResponse, put, web};
use domain::{audit::Subject, ids::EventId};
use uuid::Uuid;

use super::{
    body::{EventWithEntriesBody, not_called_off},
    entries::{Known, SetEntries},
};
use crate::{
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    server::Api,
    versions::{IfMatch, versioned},
};

/// Set who goes to an event with which bow, in the place of all that was set before: owners for
/// everybody, coaches for the archers of their squads, with the entries of all others as they were.
#[utoipa::path(
    operation_id = "set_entries",
    tag = "events",
    params(("id" = Uuid, Path, description = "The event")),
    request_body = SetEntries,
    responses((status = 200, description = "Set", body = EventWithEntriesBody))
)]
#[put("/events/{id}/entries")]
pub(crate) async fn set_entries(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    id: web::Path<Uuid>,
    body: Body<SetEntries>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let (id, body, now) = (EventId(id.into_inner()), body.0, api.now());
    let set = api.store.write(move |tx| {
        let event = store::events::get(tx, who.club, id)?;
        of.check(event.version)?;
        not_called_off(&event)?;
        let after = body.named()?;
        let before = store::events::entries_of(tx, who.club, id)?;
        let known = Known::of(tx, who, &[&before, &after])?;
        known.check(&before, &after)?;
        known.check_reach(tx, who, &before, &after)?;
        let set = Changed::of("set_entries", Subject::Event, id.0);
        let set = set.before(&EventWithEntriesBody::of(&event, &before))?;
        let event = store::events::set_entries(tx, who.club, &event, &after)?;
        let entries = store::events::entries_of(tx, who.club, id)?;
        who.record(tx, now, set.after(&EventWithEntriesBody::of(&event, &entries))?)?;
        Ok::<_, ApiError>((event, entries))
    });
    let (event, entries) = set.await?;
    Ok(versioned(&EventWithEntriesBody::of(&event, &entries), event.version))
}
