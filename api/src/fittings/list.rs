//! Where a part hung, or what hung on a bow.

use actix_web::{get, web};
use domain::ids::{BowId, PartId};
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use super::FittingBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    fields::FieldError,
    paging::{ListBody, Query},
    server::Api,
    within_reach,
};

/// Of what: one of the two.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct FittingsQuery {
    /// Where this part was fitted.
    part_id: Option<Uuid>,
    /// What was fitted to this bow itself; what rode on those parts is theirs.
    bow_id: Option<Uuid>,
}

/// Every fitting of a part, or to a bow; the oldest first, and always all of them.
#[utoipa::path(
    operation_id = "list_fittings",
    tag = "parts",
    params(FittingsQuery),
    responses((status = 200, description = "The fittings", body = ListBody<FittingBody>))
)]
#[get("/fittings")]
pub(crate) async fn list_fittings(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<FittingsQuery>,
) -> Result<web::Json<ListBody<FittingBody>>, ApiError> {
    let asked = (query.0.part_id.map(PartId), query.0.bow_id.map(BowId));
    let found = api.store.read(move |read| match asked {
        (Some(part), None) => {
            store::parts::get(read, who.club, part)?;
            within_reach::may_tend_part(read, who, part)?;
            Ok(store::fittings::of_part(read, who.club, part)?)
        }
        (None, Some(bow)) => {
            let bow = store::bows::get(read, who.club, bow)?;
            who.may_tend(read, &bow)?;
            Ok(store::fittings::of_bow(read, who.club, bow.id)?)
        }
        _ => {
            let detail = "give part_id or bow_id, and not both";
            let error = FieldError::new("/part_id", "one_of_two", detail);
            Err(ApiError::Invalid(vec![error]))
        }
    });
    Ok(web::Json(ListBody::whole(found.await?.into_iter().map(FittingBody::from).collect())))
}
