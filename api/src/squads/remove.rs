//! Ending a squad.

use actix_web::{HttpResponse, delete, web};
use domain::{audit::Subject, ids::SquadId};
use uuid::Uuid;

use super::body::SquadBody;
use crate::{
    audit::Changed,
    auth::SignedIn,
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
    versions::IfMatch,
};

/// End a squad. Its people stay in the club.
#[utoipa::path(
    operation_id = "remove_squad",
    tag = "squads",
    params(
        ("id" = Uuid, Path, description = "The squad"),
        ("If-Match" = String, Header, description = "The ETag that it was read with")
    ),
    responses((status = 204, description = "Ended"))
)]
#[delete("/squads/{id}")]
pub(crate) async fn remove_squad(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    who.owns_the_club()?;
    let (id, now) = (SquadId(id.into_inner()), api.now());
    let removed = api.store.write(move |tx| {
        let squad = store::squads::get(tx, who.club, id)?;
        of.check(squad.version)?;
        store::squads::remove(tx, who.club, &squad, (who.member, now))?;
        let ended = Changed::of("remove_squad", Subject::Squad, id.0);
        who.record(tx, now, ended.before(&SquadBody::from(&squad))?)
    });
    removed.await?;
    Ok(HttpResponse::NoContent().finish())
}
