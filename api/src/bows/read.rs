//! Reading bows.

use actix_web::{HttpResponse, get, web};
use domain::{bows::Bow, ids::BowId};
use uuid::Uuid;

use super::{BowBody, BowNowBody};
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, ListQuery, NoQuery, Query},
    server::Api,
    versions::versioned,
    within_reach,
};

/// The bows within reach, in the order they were added: an owner of the club sees all, a coach those of
/// their squads and the club's own that nobody shoots, an archer those they shoot, keep or own.
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
    let page = query.0.page()?;
    let bows = api.store.read(move |read| {
        let reach = who.reach(read)?;
        within_reach::fill(page, |page| {
            let rows = store::bows::list(read, who.club, page)?;
            let row = |bow: Bow| (bow.id.0, Some(bow).filter(|bow| reach.bow(bow)));
            Ok::<_, ApiError>(rows.into_iter().map(row).collect())
        })
    });
    Ok(web::Json(ListBody::of(bows.await?, page, |bow: &Bow| bow.id.0, BowBody::from)))
}

/// One bow, whether it must not be shot, and what it lacks to be.
#[utoipa::path(
    operation_id = "get_bow",
    tag = "bows",
    params(("id" = Uuid, Path, description = "The bow")),
    responses((status = 200, description = "The bow", body = BowNowBody))
)]
#[get("/bows/{id}")]
pub(crate) async fn get_bow(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let (id, now) = (BowId(id.into_inner()), api.now());
    let found = api.store.read(move |read| {
        let bow = store::bows::get(read, who.club, id)?;
        who.may_tend(read, &bow)?;
        let club = store::clubs::get(read, who.club)?;
        Ok::<_, ApiError>((BowNowBody::read(read, (who, &club), &bow, now)?, bow.version))
    });
    let (body, version) = found.await?;
    Ok(versioned(&body, version))
}
