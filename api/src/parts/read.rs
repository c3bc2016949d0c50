//! Reading parts.

use actix_web::{get, web};
use domain::{
    clubs::Club,
    ids::{ClubId, PartId},
    parts::Part,
};
use jiff::Timestamp;
use store::{Read, StoreError};
use uuid::Uuid;

use super::{PartBody, StateBody};
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, ListQuery, NoQuery, Query},
    server::Api,
    within_reach,
};

/// A part and what it is at `now`.
pub(crate) fn one(
    read: &mut Read<'_>,
    club: ClubId,
    part: PartId,
    now: Timestamp,
) -> Result<PartBody, StoreError> {
    let club = store::clubs::get(read, club)?;
    let judged = store::due::of_parts(read, &club, &[part], now)?.pop();
    let judged = judged.ok_or(StoreError::NotFound { what: "part" })?;
    Ok(PartBody::of(judged, &club, now))
}

/// What these parts are at `now`.
pub(crate) fn states(
    read: &mut Read<'_>,
    club: &Club,
    parts: &[PartId],
    now: Timestamp,
) -> Result<Vec<StateBody>, StoreError> {
    let judged = store::due::of_parts(read, club, parts, now)?;
    Ok(judged.into_iter().map(|one| StateBody::of(one, club, now)).collect())
}

/// One part, its wear and its condition.
#[utoipa::path(
    operation_id = "get_part",
    tag = "parts",
    params(("id" = Uuid, Path, description = "The part")),
    responses((status = 200, description = "The part", body = PartBody))
)]
#[get("/parts/{id}")]
pub(crate) async fn get_part(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<web::Json<PartBody>, ApiError> {
    let (id, now) = (PartId(id.into_inner()), api.now());
    let body = api.store.read(move |read| {
        store::parts::get(read, who.club, id)?;
        within_reach::may_tend_part(read, who, id)?;
        one(read, who.club, id, now).map_err(ApiError::from)
    });
    Ok(web::Json(body.await?))
}

/// The parts within reach, retired ones too, in the order they were added: those that are, or were last,
/// under a bow within reach. Parts that never hung under a bow are shown to coaches and owners.
#[utoipa::path(
    operation_id = "list_parts",
    tag = "parts",
    params(ListQuery),
    responses((status = 200, description = "A page of parts", body = ListBody<PartBody>))
)]
#[get("/parts")]
pub(crate) async fn list_parts(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<ListQuery>,
) -> Result<web::Json<ListBody<PartBody>>, ApiError> {
    let (page, now) = (query.0.page()?, api.now());
    let body = api.store.read(move |read| {
        let ids = within_reach::fill(page, |page| {
            let rows = store::parts::list(read, who.club, page)?;
            let ids: Vec<PartId> = rows.iter().map(|part: &Part| part.id).collect();
            let within = within_reach::parts(read, who, &ids)?;
            let row = |id: PartId| (id.0, Some(id).filter(|id| within.contains(id)));
            Ok::<_, StoreError>(ids.into_iter().map(row).collect())
        })?;
        let club = store::clubs::get(read, who.club)?;
        let judged = store::due::of_parts(read, &club, &ids, now)?;
        let rows =
            judged.into_iter().map(|one| (one.record.part.id.0, PartBody::of(one, &club, now)));
        Ok::<_, StoreError>(ListBody::of(rows.collect(), page, |(id, _)| *id, |(_, body)| body))
    });
    Ok(web::Json(body.await?))
}
