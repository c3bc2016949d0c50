//! What was done on a part.

use actix_web::{get, web};
use domain::ids::PartId;
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use super::body::WorkBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, Query},
    server::Api,
    within_reach,
};

/// On what.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct UpkeepQuery {
    /// The part.
    part_id: Uuid,
}

/// All work on a part, the oldest first.
#[utoipa::path(
    operation_id = "list_upkeep",
    tag = "upkeep",
    params(UpkeepQuery),
    responses((status = 200, description = "The work", body = ListBody<WorkBody>))
)]
#[get("/upkeep")]
pub(crate) async fn list_upkeep(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<UpkeepQuery>,
) -> Result<web::Json<ListBody<WorkBody>>, ApiError> {
    let part = PartId(query.0.part_id);
    let works = api.store.read(move |read| {
        store::parts::get(read, who.club, part)?;
        within_reach::may_tend_part(read, who, part)?;
        Ok::<_, ApiError>(store::upkeep::of_part(read, who.club, part)?)
    });
    Ok(web::Json(ListBody::whole(works.await?.into_iter().map(WorkBody::from).collect())))
}
