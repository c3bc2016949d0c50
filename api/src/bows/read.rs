//! Reading bows.

use actix_web::{get, web};
use domain::{bows::Bow, ids::BowId};
use uuid::Uuid;

use super::BowBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, ListQuery, NoQuery, Query},
    server::Api,
};

/// The club's bows, in the order they were added.
#[utoipa::path(
    operation_id = "list_bows",
    tag = "bows",
    params(ListQuery),
    responses((status = 200, description = "A page of bows", body = ListBody<BowBody>))
)]
#[get("/bows")]
pub(crate) async fn list_bows(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<ListQuery>,
) -> Result<web::Json<ListBody<BowBody>>, ApiError> {
    who.looks_after_others()?;
    let page = query.0.page()?;
    let bows = api.store.read(move |read| store::bows::list(read, who.club, page)).await?;
    Ok(web::Json(ListBody::of(bows, page, |bow: &Bow| bow.id.0, BowBody::from)))
}

/// One bow.
#[utoipa::path(
    operation_id = "get_bow",
    tag = "bows",
    params(("id" = Uuid, Path, description = "The bow")),
    responses((status = 200, description = "The bow", body = BowBody))
)]
#[get("/bows/{id}")]
pub(crate) async fn get_bow(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<web::Json<BowBody>, ApiError> {
    who.looks_after_others()?;
    let id = BowId(id.into_inner());
    let bow = api.store.read(move |read| store::bows::get(read, who.club, id)).await?;
    Ok(web::Json(bow.into()))
}
