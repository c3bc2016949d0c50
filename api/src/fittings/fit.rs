//! Fitting a part.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    fittings::{Fitting, Host},
    ids::{BowId, FittingId, PartId},
};
use jiff::Timestamp;
use serde::Deserialize;
use store::{Tx, fresh_id};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{
    FittingBody,
    reach::{bow_of, may_tend_host},
};
use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, body::Body, error::ApiError, fields::Fields,
    server::Api, within_reach,
};

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
                version: 1,
            })
        };
        fields.finish(built())
    }
}

/// Passes who may look after the bow concerned, and may put the part to use there.
fn may_fit(tx: &mut Tx<'_>, who: SignedIn, fitting: &Fitting) -> Result<(), ApiError> {
    store::parts::get_to_change(tx, who.club, fitting.part_id)?;
    may_tend_host(tx, who, fitting.host)?;
    within_reach::may_use_part(tx, who, fitting.part_id)
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
    let (Body(body, once), now) = (body, api.now());
    api.write_once(who, once, move |tx| {
        let fitting = body.parse(now)?;
        may_fit(tx, who, &fitting)?;
        within_reach::keeping_stops(tx, who, |tx| {
            store::fittings::fit::<ApiError>(tx, who.club, &fitting)
        })?;
        let body = FittingBody::from(fitting);
        let fitted = Changed::of("fit_part", Subject::Fitting, fitting.id.0);
        let fitted = fitted.about(bow_of(tx, who, &fitting)?);
        who.record(tx, now, fitted.after(&body)?)?;
        let path = format!("/fittings/{}", fitting.id);
        Ok(Answer::created(&body)?.at(&path).version(fitting.version))
    })
    .await
}
