//! What is due in the club, and why.

use actix_web::{get, web};
use serde::Serialize;
use store::{StoreError, due::Judged};
use utoipa::ToSchema;

use crate::{
    auth::SignedIn,
    bows::BowBody,
    error::ApiError,
    paging::{ListBody, NoQuery, Query},
    parts::StateBody,
    server::Api,
};

/// A part that wants work, and its bow.
#[derive(Serialize, ToSchema)]
pub(crate) struct DueBody {
    /// The bow it hangs under, directly or on a string.
    bow: BowBody,
    part: StateBody,
}

/// Every part under a bow that is overdue, due, or soon due, the most urgent first. What is in the
/// case wants no work until it is fitted.
#[utoipa::path(
    operation_id = "list_due",
    tag = "due",
    responses((status = 200, description = "What is due", body = ListBody<DueBody>))
)]
#[get("/due")]
pub(crate) async fn list_due(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
) -> Result<web::Json<ListBody<DueBody>>, ApiError> {
    who.looks_after_others()?;
    let now = api.now();
    let (club, judged) = api
        .store
        .read(move |read| {
            let club = store::clubs::get(read, who.club)?;
            let judged = store::due::of_club(read, &club, now)?;
            Ok::<_, StoreError>((club, judged))
        })
        .await?;
    let due = judged.into_iter().filter(|one| one.assessment.condition.wants_work());
    let body = |one: Judged| {
        let bow = BowBody::from(one.bow.clone()?);
        Some(DueBody { bow, part: StateBody::of(one, &club, now) })
    };
    Ok(web::Json(ListBody::whole(due.filter_map(body).collect())))
}
