//! The look of all pages: one sheet, served by ourselves, since nothing else may be loaded.

use actix_web::{HttpResponse, get, http::header};

use crate::paging::{NoQuery, Query};

const SHEET: &str = include_str!("../../templates/style.css");

/// The style sheet of the pages.
#[utoipa::path(
    operation_id = "page_style",
    tag = "operation",
    responses((status = 200, description = "The sheet", content_type = "text/css")),
    security(())
)]
#[get("/pages/style.css")]
pub(crate) async fn page_style(_none: Query<NoQuery>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/css; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "public, max-age=3600"))
        .body(SHEET)
}
