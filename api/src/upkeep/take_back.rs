//! Reading one piece of work, and taking back work that was entered by mistake.

use actix_web::{HttpResponse, delete, get, web};
use domain::{
    audit::Subject,
    ids::UpkeepId,
    members::Role,
    upkeep::{Upkeep, UpkeepError},
};
use uuid::Uuid;

use super::body::WorkBody;
use crate::{
    answer::Answer,
    audit::Changed,
    auth::SignedIn,
    error::ApiError,
    fields::Coded,
    paging::{NoQuery, Query},
    server::Api,
    versions::{IfMatch, versioned},
    within_reach,
};

/// Work is entered once and not edited.
const VERSION: i32 = 1;

/// One piece of work.
#[utoipa::path(
    operation_id = "get_upkeep",
    tag = "upkeep",
    params(("id" = Uuid, Path, description = "The work")),
    responses((status = 200, description = "The work", body = WorkBody))
)]
#[get("/upkeep/{id}")]
pub(crate) async fn get_upkeep(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let id = UpkeepId(id.into_inner());
    let found = api.store.read(move |read| {
        let work = store::upkeep::get(read, who.club, id)?;
        within_reach::may_tend_part(read, who, work.part_id)?;
        Ok::<_, ApiError>(work)
    });
    Ok(versioned(&WorkBody::from(found.await?), VERSION))
}

/// Passes who may take work back: whoever entered it, the coach of whose bow it is, and owners. What
/// lifted a stop is not an archer's to touch.
fn may_take_back(who: SignedIn, work: &Upkeep) -> Result<(), ApiError> {
    if who.role != Role::Archer {
        return Ok(());
    }
    if work.clears {
        return Err(ApiError::Forbidden(
            "it lifted what forbade shooting; a coach or an owner of the club takes it back",
        ));
    }
    if work.entered_by != who.member {
        return Err(ApiError::Forbidden(
            "this is for who entered the work, for the coach of whose bow it is, and for owners of \
             the club",
        ));
    }
    Ok(())
}

fn not_alone(error: UpkeepError) -> ApiError {
    ApiError::Conflict { code: error.code(), detail: error.to_string() }
}

/// Take back work that was never done: the part counts on from the work before it, and what it
/// cleared is stopped again. Work that found something unsafe stays while that stops the part: only an
/// inspection with a reason lifts it. A new serving or another string is undone by its fittings.
#[utoipa::path(
    operation_id = "remove_upkeep",
    tag = "upkeep",
    params(("id" = Uuid, Path, description = "The work")),
    responses((status = 204, description = "It is off the record"))
)]
#[delete("/upkeep/{id}")]
pub(crate) async fn remove_upkeep(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let (id, now) = (UpkeepId(id.into_inner()), api.now());
    let removed = api.store.write(move |tx| {
        let work = store::upkeep::get(tx, who.club, id)?;
        within_reach::may_tend_part(tx, who, work.part_id)?;
        may_take_back(who, &work)?;
        of.check(VERSION)?;
        work.stands_alone().map_err(not_alone)?;
        let part = store::parts::get_to_change(tx, who.club, work.part_id)?;
        within_reach::lifting_none(tx, who, |tx| {
            store::upkeep::remove(tx, who.club, &part, &work).map_err(ApiError::from)
        })?;
        let removed = Changed::of("remove_upkeep", Subject::Upkeep, id.0);
        let removed = removed.about(within_reach::bow_of_part(tx, who, part.id)?);
        who.record(tx, now, removed.before(&WorkBody::from(work))?)
    });
    removed.await?;
    Ok(Answer::nothing().respond())
}
