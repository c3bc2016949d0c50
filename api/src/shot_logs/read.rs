//! Reading one log.

use actix_web::{HttpResponse, get, web};
use domain::ids::ShotLogId;
use uuid::Uuid;

use super::ShotLogBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
    versions::versioned,
};

/// One log, as it stands after its corrections. One that is void is not there.
#[utoipa::path(
    operation_id = "get_shot_log",
    tag = "shot-logs",
    params(("id" = Uuid, Path, description = "The log")),
    responses((status = 200, description = "The log, with its version as ETag", body = ShotLogBody))
)]
#[get("/shot-logs/{id}")]
pub(crate) async fn get_log(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let id = ShotLogId(id.into_inner());
    let found = api.store.read(move |read| {
        let (log, version) = store::ledger::effective(read, who.club, id)?;
        let bow = store::bows::get(read, who.club, log.bow_id)?;
        who.may_tend(read, &bow)?;
        Ok::<_, ApiError>((log, version))
    });
    let (log, version) = found.await?;
    Ok(versioned(&ShotLogBody::from(log), version))
}
