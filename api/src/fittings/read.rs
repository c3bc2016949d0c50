//! Reading one fitting.

use actix_web::{HttpResponse, get, web};
use domain::ids::FittingId;
use uuid::Uuid;

use super::FittingBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
    versions::versioned,
    within_reach,
};

/// One fitting, with its version.
#[utoipa::path(
    operation_id = "get_fitting",
    tag = "parts",
    params(("id" = Uuid, Path, description = "The fitting")),
    responses((status = 200, description = "The fitting", body = FittingBody))
)]
#[get("/fittings/{id}")]
pub(crate) async fn get_fitting(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let id = FittingId(id.into_inner());
    let found = api.store.read(move |read| {
        let fitting = store::fittings::get(read, who.club, id)?;
        within_reach::may_tend_part(read, who, fitting.part_id)?;
        Ok::<_, ApiError>(fitting)
    });
    let fitting = found.await?;
    Ok(versioned(&FittingBody::from(fitting), fitting.version))
}
