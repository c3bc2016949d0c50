//! What happened to bows.

use actix_web::{get, web};
use domain::{ids::BowId, incidents::Incident};
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use super::body::IncidentBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, Query, page},
    server::Api,
    within_reach,
};

/// Which incidents.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct IncidentsQuery {
    /// Only incidents of this bow.
    bow_id: Option<Uuid>,
    /// How many rows at most; more than 200 means 200.
    #[param(minimum = 1, example = 50)]
    limit: Option<i64>,
    /// The `next_cursor` of the page before.
    cursor: Option<String>,
}

/// Incidents of one bow, or of every bow within reach, in the order they were entered.
#[utoipa::path(
    operation_id = "list_incidents",
    tag = "incidents",
    params(IncidentsQuery),
    responses((status = 200, description = "A page of incidents", body = ListBody<IncidentBody>))
)]
#[get("/incidents")]
pub(crate) async fn list_incidents(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<IncidentsQuery>,
) -> Result<web::Json<ListBody<IncidentBody>>, ApiError> {
    let Query(query) = query;
    let page = page(query.limit, query.cursor.as_deref())?;
    let found = api.store.read(move |read| {
        let bow = query.bow_id.map(BowId);
        if let Some(bow) = bow {
            let bow = store::bows::get(read, who.club, bow)?;
            who.may_tend(read, &bow)?;
        }
        let within = within_reach::bows(read, who)?;
        within_reach::fill(page, |page| {
            let rows = store::incidents::list(read, who.club, bow, page)?;
            let row = |one: Incident| {
                (one.id.0, Some(one).filter(|one| within.contains_key(&one.bow_id)))
            };
            Ok::<_, ApiError>(rows.into_iter().map(row).collect())
        })
    });
    Ok(web::Json(ListBody::of(found.await?, page, |one: &Incident| one.id.0, IncidentBody::from)))
}
