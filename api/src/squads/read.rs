//! Which squads there are.

use actix_web::{HttpResponse, get, web};
use domain::{ids::SquadId, members::Role};
use store::StoreError;
use uuid::Uuid;

use super::body::SquadBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, ListQuery, NoQuery, Query},
    server::Api,
    versions::versioned,
};

/// Why a squad is out of reach.
const NOT_THEIRS: ApiError =
    ApiError::Forbidden("this is for the squad's own people, and for owners of the club");

/// Squads: an owner sees every one, everybody else those that they coach or shoot in.
#[utoipa::path(
    operation_id = "list_squads",
    tag = "squads",
    params(ListQuery),
    responses((status = 200, description = "A page of squads", body = ListBody<SquadBody>))
)]
#[get("/squads")]
pub(crate) async fn list_squads(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<ListQuery>,
) -> Result<web::Json<ListBody<SquadBody>>, ApiError> {
    let page = query.0.page()?;
    let of = (who.role != Role::Owner).then_some(who.member);
    let found = api.store.read(move |read| {
        let reach = who.reach(read)?;
        let squads = store::squads::list(read, who.club, of, page)?;
        let seen = squads.into_iter().filter_map(|squad| squad.seen_by(who.member, &reach));
        Ok(seen.map(|squad| SquadBody::from(&squad)).collect())
    });
    let found: Vec<SquadBody> = found.await.map_err(|error: StoreError| ApiError::from(error))?;
    Ok(web::Json(ListBody::of(found, page, |one| one.id, |one| one)))
}

/// One squad.
#[utoipa::path(
    operation_id = "get_squad",
    tag = "squads",
    params(("id" = Uuid, Path, description = "The squad")),
    responses((status = 200, description = "The squad", body = SquadBody))
)]
#[get("/squads/{id}")]
pub(crate) async fn get_squad(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let id = SquadId(id.into_inner());
    let found = api.store.read(move |read| {
        let squad = store::squads::get(read, who.club, id)?;
        let reach = who.reach(read)?;
        squad.seen_by(who.member, &reach).ok_or(NOT_THEIRS)
    });
    let squad = found.await?;
    Ok(versioned(&SquadBody::from(&squad), squad.version))
}
