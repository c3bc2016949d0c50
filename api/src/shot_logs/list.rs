//! What was logged.

use actix_web::{get, web};
use domain::{ids::BowId, ledger::ShotLog, reach::Reach};
use serde::Deserialize;
use store::{Read, StoreError};
use utoipa::IntoParams;
use uuid::Uuid;

use super::ShotLogBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, Query, page},
    server::Api,
    within_reach,
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

/// Logs of every bow within reach, or of one of them, by id: the order in which they were
/// entered, as far as their senders chose ids of version 7. Each shows what it says after its
/// corrections; a void one is left out.
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
    let Query(query) = query;
    let page = page(query.limit, query.cursor.as_deref())?;
    let logs = api.store.read(move |read| {
        let bows = match query.bow_id {
            Some(bow) => {
                let bow = store::bows::get(read, who.club, BowId(bow))?;
                who.may_tend(read, &bow)?;
                Some(vec![bow.id])
            }
            None => within(read, who)?,
        };
        Ok::<_, ApiError>(store::ledger::list(read, who.club, bows.as_deref(), page)?)
    });
    Ok(web::Json(ListBody::of(logs.await?, page, |log: &ShotLog| log.id.0, ShotLogBody::from)))
}

/// The bows within reach; nothing if those are all of the club's.
fn within(read: &mut Read<'_>, who: SignedIn) -> Result<Option<Vec<BowId>>, StoreError> {
    if who.reach(read)? == Reach::Everybody {
        return Ok(None);
    }
    Ok(Some(within_reach::bows(read, who)?.into_keys().collect()))
}
