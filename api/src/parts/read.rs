//! Reading parts.

use actix_web::{get, web};
use domain::{
    ids::{ClubId, PartId},
    parts::Part,
};
use jiff::Timestamp;
use store::{Read, StoreError};
use uuid::Uuid;

use super::PartBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, ListQuery, NoQuery, Query},
    server::Api,
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
    who.looks_after_others()?;
    let (id, now) = (PartId(id.into_inner()), api.now());
    Ok(web::Json(api.store.read(move |read| one(read, who.club, id, now)).await?))
}

/// The club's parts, retired ones too, in the order they were added.
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
    who.looks_after_others()?;
    let (page, now) = (query.0.page()?, api.now());
    let body = api.store.read(move |read| {
        let parts = store::parts::list(read, who.club, page)?;
        let club = store::clubs::get(read, who.club)?;
        let ids: Vec<PartId> = parts.iter().map(|part: &Part| part.id).collect();
        let judged = store::due::of_parts(read, &club, &ids, now)?;
        let rows =
            judged.into_iter().map(|one| (one.record.part.id.0, PartBody::of(one, &club, now)));
        Ok::<_, StoreError>(ListBody::of(rows.collect(), page, |(id, _)| *id, |(_, body)| body))
    });
    Ok(web::Json(body.await?))
}
