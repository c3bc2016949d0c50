//! Who is in a club.

use actix_web::{HttpResponse, get, web};
use domain::ids::MemberId;
use store::StoreError;
use uuid::Uuid;

use super::body::MemberBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, ListQuery, NoQuery, Query},
    server::Api,
    versions::versioned,
};

/// Why somebody is out of reach.
pub(super) const NOT_THEIRS: ApiError = ApiError::Forbidden(
    "this is for the person, for the coach of their squad, and for owners of the club",
);

/// Those who are in the club: an owner sees everybody, a coach the archers of their squads, and
/// everybody themselves.
#[utoipa::path(
    operation_id = "list_members",
    tag = "members",
    params(ListQuery),
    responses((status = 200, description = "A page of people", body = ListBody<MemberBody>))
)]
#[get("/members")]
pub(crate) async fn list_members(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<ListQuery>,
) -> Result<web::Json<ListBody<MemberBody>>, ApiError> {
    let page = query.0.page()?;
    let found = api.store.read(move |read| {
        let reach = who.reach(read)?;
        let members = store::members::list(read, who.club, &reach, page)?;
        MemberBody::some(read, who.club, &members)
    });
    let found = found.await.map_err(|error: StoreError| ApiError::from(error))?;
    Ok(web::Json(ListBody::of(found, page, |one: &MemberBody| one.id, |one| one)))
}

/// One person, also after they left.
#[utoipa::path(
    operation_id = "get_member",
    tag = "members",
    params(("id" = Uuid, Path, description = "The person")),
    responses((status = 200, description = "The person", body = MemberBody))
)]
#[get("/members/{id}")]
pub(crate) async fn get_member(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let id = MemberId(id.into_inner());
    let found = api.store.read(move |read| {
        let member = store::members::get(read, who.club, id)?;
        if !who.reach(read)?.member(id) {
            return Err(NOT_THEIRS);
        }
        Ok((MemberBody::one(read, who.club, &member)?, member.version))
    });
    let (body, version) = found.await?;
    Ok(versioned(&body, version))
}
