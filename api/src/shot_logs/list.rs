//! What was logged.

use actix_web::{get, web};
use domain::{ids::BowId, ledger::ShotLog};
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use super::ShotLogBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, Query, page},
    server::Api,
};

/// Which logs.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct LogsQuery {
    /// Only logs of this bow.
    bow_id: Option<Uuid>,
    /// How many rows at most; more than 200 means 200.
    #[param(minimum = 1, example = 50)]
    limit: Option<i64>,
    /// The `next_cursor` of the page before.
    cursor: Option<String>,
}

/// Logs of the club or of one bow, by id: the order in which they were entered, as far as their
/// senders chose ids of version 7.
#[utoipa::path(
    operation_id = "list_shot_logs",
    tag = "shot-logs",
    params(LogsQuery),
    responses((status = 200, description = "A page of logs", body = ListBody<ShotLogBody>))
)]
#[get("/shot-logs")]
pub(crate) async fn list_shot_logs(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<LogsQuery>,
) -> Result<web::Json<ListBody<ShotLogBody>>, ApiError> {
    who.looks_after_others()?;
    let Query(query) = query;
    let page = page(query.limit, query.cursor.as_deref())?;
    let logs = api.store.read(move |read| {
        let bow = query.bow_id.map(BowId);
        if let Some(bow) = bow {
            store::bows::get(read, who.club, bow)?;
        }
        store::ledger::list(read, who.club, bow, page)
    });
    Ok(web::Json(ListBody::of(logs.await?, page, |log: &ShotLog| log.id.0, ShotLogBody::from)))
}
