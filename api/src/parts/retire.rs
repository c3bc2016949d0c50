//! The end of a part.

use actix_web::{post, web};
use domain::{
    ids::PartId,
    parts::{End, Retirement},
};
use jiff::Timestamp;
use serde::Deserialize;
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use super::{PartBody, read::one};
use crate::{
    auth::SignedIn, body::Body, error::ApiError, fields::Fields, openapi::one_of, server::Api,
};

/// How a part's life ended. It is taken off whatever it was fitted to at that moment.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RetirePart {
    #[schema(example = "2026-01-24T18:30:00Z", format = DateTime)]
    at: String,
    #[schema(schema_with = ends)]
    end: String,
    #[schema(example = "fuzzy below the loop", max_length = 200)]
    reason: String,
}

fn ends() -> RefOr<Schema> {
    one_of(End::ALL.iter().map(|end| end.as_str()))
}

impl RetirePart {
    fn parse(&self, now: Timestamp) -> Result<Retirement, ApiError> {
        let mut fields = Fields::default();
        let at = fields.past("/at", &self.at, now);
        let end = fields.word("/end", &self.end, End::parse, End::ALL);
        let reason = fields.name("/reason", &self.reason);
        let built = || Some(Retirement { at: at?, end: end?, reason: reason? });
        fields.finish(built())
    }
}

/// End a part's life.
#[utoipa::path(
    operation_id = "retire_part",
    tag = "parts",
    params(("id" = Uuid, Path, description = "The part")),
    request_body = RetirePart,
    responses((status = 200, description = "Retired", body = PartBody))
)]
#[post("/parts/{id}/retirement")]
pub(crate) async fn retire_part(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: Body<RetirePart>,
) -> Result<web::Json<PartBody>, ApiError> {
    who.looks_after_others()?;
    let (id, now) = (PartId(id.into_inner()), api.now());
    let retirement = body.0.parse(now)?;
    let body = api.store.write(move |tx| {
        let part = store::parts::get_to_change(tx, who.club, id)?;
        store::parts::retire::<ApiError>(tx, who.club, part, retirement)?;
        one(tx, who.club, id, now).map_err(ApiError::from)
    });
    Ok(web::Json(body.await?))
}
