//! A table as a file.

use actix_web::{
    HttpResponse, get,
    http::header::{CONTENT_DISPOSITION, CONTENT_TYPE},
    web,
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::{actor, table, tables};
use crate::{auth::SignedIn, error::ApiError, paging::Query, server::Api, tables::export};

/// Which table.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct ExportQuery {
    /// Which table; all but `shot_logs` are for owners of the club.
    #[param(schema_with = tables)]
    table: String,
    /// With a byte order mark, by which spreadsheets see that it is UTF-8.
    #[param(example = false)]
    bom: Option<bool>,
}

/// A table as a CSV file (RFC 4180), ordered by id; people by address. Of the ledger what is within
/// reach, as it stands after its corrections. A text that a spreadsheet would take for a formula has an
/// apostrophe before it, which an import takes away again.
#[utoipa::path(
    operation_id = "export_table",
    tag = "records",
    params(ExportQuery),
    responses((
        status = 200,
        description = "The file",
        content((String = "text/csv", example = "id,bow,at,shots\r\n"))
    ))
)]
#[get("/export")]
pub(crate) async fn export_table(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<ExportQuery>,
) -> Result<HttpResponse, ApiError> {
    let (Query(query), now) = (query, api.now());
    let table = table(who, &query.table)?;
    let bom = query.bom.unwrap_or(false);
    let read = api.store.read(move |read| export(read, actor(who), table, bom, now));
    let file = read.await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "text/csv; charset=utf-8"))
        .insert_header((
            CONTENT_DISPOSITION,
            format!("attachment; filename=\"{}.csv\"", table.as_str()),
        ))
        .body(file))
}
