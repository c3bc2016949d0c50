//! Whether the process lives, and whether it can do its work.

use actix_web::{HttpResponse, get, web};
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
};

/// How the server is.
#[derive(Serialize, ToSchema)]
pub(crate) struct HealthBody {
    /// Always "ok"; a server that is not ok answers with a problem document.
    #[schema(example = "ok")]
    status: &'static str,
}

/// Whether the process answers at all.
#[utoipa::path(
    operation_id = "healthz",
    tag = "operation",
    responses((status = 200, description = "The process lives", body = HealthBody)),
    security(())
)]
#[get("/healthz")]
pub(crate) async fn healthz(_none: Query<NoQuery>) -> web::Json<HealthBody> {
    web::Json(HealthBody { status: "ok" })
}

/// Whether the database can be read.
#[utoipa::path(
    operation_id = "readyz",
    tag = "operation",
    responses((status = 200, description = "The database answers", body = HealthBody)),
    security(())
)]
#[get("/readyz")]
pub(crate) async fn readyz(
    api: web::Data<Api>,
    _none: Query<NoQuery>,
) -> Result<HttpResponse, ApiError> {
    let answers = api.store.ping().await;
    answers.map_err(|error| ApiError::Unavailable(error.to_string()))?;
    Ok(HttpResponse::Ok().json(HealthBody { status: "ok" }))
}
