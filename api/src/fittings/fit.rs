//! Fitting a part.

use actix_web::{HttpResponse, post, web};
use domain::{
    fittings::{Fitting, Host},
    ids::{BowId, FittingId, PartId},
};
use jiff::Timestamp;
use serde::Deserialize;
use store::fresh_id;
use utoipa::ToSchema;
use uuid::Uuid;

use super::FittingBody;
use crate::{auth::SignedIn, body::Body, error::ApiError, fields::Fields, server::Api};

/// A part to be fitted, to a bow or to another part.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct FitPart {
    part_id: Uuid,
    /// The bow; or give `host_part_id`.
    bow_id: Option<Uuid>,
    /// The string or cable it goes on; or give `bow_id`.
    host_part_id: Option<Uuid>,
    #[schema(example = "2026-01-10T09:00:00Z", format = DateTime)]
    at: String,
}

impl FitPart {
    fn parse(&self, now: Timestamp) -> Result<Fitting, ApiError> {
        let mut fields = Fields::default();
        let from = fields.past("/at", &self.at, now);
        let host = match (self.bow_id, self.host_part_id) {
            (Some(bow), None) => Some(Host::Bow(BowId(bow))),
            (None, Some(part)) => Some(Host::Part(PartId(part))),
            (None, None) => {
                fields.refuse("/bow_id", "missing", "give bow_id or host_part_id");
                None
            }
            (Some(_), Some(_)) => {
                fields.refuse(
                    "/host_part_id",
                    "two_hosts",
                    "give bow_id or host_part_id, not both",
                );
                None
            }
        };
        let built = || {
            Some(Fitting {
                id: fresh_id::<FittingId>(now),
                part_id: PartId(self.part_id),
                host: host?,
                from: from?,
                to: None,
            })
        };
        fields.finish(built())
    }
}

/// Fit a part to a bow, or to the string it rides on.
#[utoipa::path(
    operation_id = "fit_part",
    tag = "parts",
    request_body = FitPart,
    responses((status = 201, description = "Fitted", body = FittingBody))
)]
#[post("/fittings")]
pub(crate) async fn fit_part(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<FitPart>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let fitting = body.0.parse(api.now())?;
    api.store.write(move |tx| store::fittings::fit::<ApiError>(tx, who.club, &fitting)).await?;
    Ok(HttpResponse::Created().json(FittingBody::from(fitting)))
}
