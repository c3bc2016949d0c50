//! Reading the timeline of a part or a bow.

use actix_web::{get, web};
use domain::{
    clubs::Club,
    ids::{BowId, PartId},
};
use serde::Deserialize;
use store::timeline::Timeline;
use utoipa::IntoParams;
use uuid::Uuid;

use super::body::{EntryBody, Of};
use crate::{
    auth::SignedIn,
    days::Days,
    error::ApiError,
    fields::Fields,
    paging::{ListBody, Query},
    server::Api,
    within_reach,
};

/// Which days.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct TimelineQuery {
    /// Nothing before this date of the club.
    #[param(format = Date, example = "2026-01-01")]
    from: Option<String>,
    /// Nothing after it.
    #[param(format = Date, example = "2026-01-31")]
    until: Option<String>,
}

impl TimelineQuery {
    fn days(&self) -> Result<Days, ApiError> {
        let mut fields = Fields::default();
        let days = Days::parse(&mut fields, self.from.as_deref(), self.until.as_deref());
        fields.finish(Some(days))
    }
}

/// The entries of those days in words.
fn written(found: &Timeline, of: Of, club: &Club, days: Days) -> ListBody<EntryBody> {
    let shown = found.entries.iter().filter(|entry| days.hold(entry.on));
    let body = shown.map(|entry| {
        let text = match of {
            Of::Part => entry.of_part_in_words(&found.names, &club.zone),
            Of::Bow => entry.of_bow_in_words(&found.names, &club.zone),
        };
        EntryBody::of(entry, of, text)
    });
    ListBody::whole(body.collect())
}

/// Everything that happened to a part, oldest first: when it was made, fitted and taken off, what it was
/// shot on each day, the work on it, what happened to the bows it was under, what forbade shooting it and
/// what lifted that, and how its life ended.
#[utoipa::path(
    operation_id = "get_part_timeline",
    tag = "parts",
    params(("id" = Uuid, Path, description = "The part"), TimelineQuery),
    responses((status = 200, description = "Its timeline", body = ListBody<EntryBody>))
)]
#[get("/parts/{id}/timeline")]
pub(crate) async fn get_part_timeline(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    query: Query<TimelineQuery>,
) -> Result<web::Json<ListBody<EntryBody>>, ApiError> {
    let (id, days) = (PartId(id.into_inner()), query.0.days()?);
    let body = api.store.read(move |read| {
        store::parts::get(read, who.club, id)?;
        within_reach::may_tend_part(read, who, id)?;
        let club = store::clubs::get(read, who.club)?;
        let mut found = store::timeline::of_part(read, &club, id)?;
        // It may have been under a bow that is none of theirs.
        let within = within_reach::bows(read, who)?;
        found.names.bows.retain(|bow, _| within.contains_key(bow));
        Ok::<_, ApiError>(written(&found, Of::Part, &club, days))
    });
    Ok(web::Json(body.await?))
}

/// Everything that happened to a bow, oldest first: what was fitted to it and taken off, what it was shot
/// on each day, incidents, what forbade shooting it and what lifted that.
#[utoipa::path(
    operation_id = "get_bow_timeline",
    tag = "bows",
    params(("id" = Uuid, Path, description = "The bow"), TimelineQuery),
    responses((status = 200, description = "Its timeline", body = ListBody<EntryBody>))
)]
#[get("/bows/{id}/timeline")]
pub(crate) async fn get_bow_timeline(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    query: Query<TimelineQuery>,
) -> Result<web::Json<ListBody<EntryBody>>, ApiError> {
    let (id, days) = (BowId(id.into_inner()), query.0.days()?);
    let body = api.store.read(move |read| {
        let bow = store::bows::get(read, who.club, id)?;
        who.may_tend(read, &bow)?;
        let club = store::clubs::get(read, who.club)?;
        let found = store::timeline::of_bow(read, &club, id)?;
        Ok::<_, ApiError>(written(&found, Of::Bow, &club, days))
    });
    Ok(web::Json(body.await?))
}
