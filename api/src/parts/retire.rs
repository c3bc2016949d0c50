//! The end of a part.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
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

use super::{PartBody, on_record::OnRecord, read::one};
use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, body::Body, error::ApiError, fields::Fields,
    openapi::one_of, server::Api, within_reach,
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

pub(crate) fn ends() -> RefOr<Schema> {
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

/// End a part's life: whoever may look after the bow that it is under or was under last.
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
) -> Result<HttpResponse, ApiError> {
    let (Body(body, once), id, now) = (body, PartId(id.into_inner()), api.now());
    api.write_once(who, once, move |tx| {
        let retirement = body.parse(now)?;
        let part = store::parts::get_to_change(tx, who.club, id)?;
        within_reach::may_tend_part(tx, who, id)?;
        let record = Changed::of("retire_part", Subject::Part, id.0);
        let record = record.about(within_reach::bow_of_part(tx, who, id)?);
        let record = record.before(&OnRecord::from(&part))?;
        let part = within_reach::keeping_stops(tx, who, |tx| {
            store::parts::retire::<ApiError>(tx, who.club, part, retirement)
        })?;
        who.record(tx, now, record.after(&OnRecord::from(&part))?)?;
        Answer::ok(&one(tx, who.club, id, now)?)
    })
    .await
}
