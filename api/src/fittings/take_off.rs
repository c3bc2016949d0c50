//! Taking a part off.

use actix_web::{HttpResponse, post, web};
use domain::{audit::Subject, ids::FittingId};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{FittingBody, reach::bow_of};
use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, body::Body, error::ApiError, fields::Fields,
    server::Api, within_reach,
};

/// When a part is taken off.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct TakeOffPart {
    #[schema(example = "2026-01-24T18:30:00Z", format = DateTime)]
    at: String,
}

/// Take a part off what it is fitted to.
#[utoipa::path(
    operation_id = "take_off_part",
    tag = "parts",
    params(("id" = Uuid, Path, description = "The fitting")),
    request_body = TakeOffPart,
    responses((status = 200, description = "Taken off", body = FittingBody))
)]
#[post("/fittings/{id}/removal")]
pub(crate) async fn take_off_part(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: Body<TakeOffPart>,
) -> Result<HttpResponse, ApiError> {
    let (Body(body, once), id, now) = (body, FittingId(id.into_inner()), api.now());
    api.write_once(who, once, move |tx| {
        let mut fields = Fields::default();
        let at = fields.past("/at", &body.at, now);
        let at = fields.finish(at)?;
        let fitting = store::fittings::get(tx, who.club, id)?;
        within_reach::may_tend_part(tx, who, fitting.part_id)?;
        let ended = within_reach::keeping_stops(tx, who, |tx| {
            store::fittings::take_off::<ApiError>(tx, who.club, id, at)
        })?;
        let body = FittingBody::from(ended);
        let taken_off = Changed::of("take_off_part", Subject::Fitting, id.0);
        let taken_off = taken_off.about(bow_of(tx, who, &ended)?);
        who.record(tx, now, taken_off.before(&FittingBody::from(fitting))?.after(&body)?)?;
        Ok(Answer::ok(&body)?.version(ended.version))
    })
    .await
}
