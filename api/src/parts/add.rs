//! Adding a part.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    ids::PartId,
    parts::{self, Cost, Part, PartKind, Start},
    text::Name,
    time::parse_date,
};
use jiff::Timestamp;
use serde::Deserialize;
use store::fresh_id;
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};

use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, body::Body, error::ApiError, fields::Fields,
    openapi::one_of, server::Api,
};

use super::{PartBody, on_record::OnRecord};

/// A part to be added; it is fitted to something next.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AddPart {
    #[schema(schema_with = kinds)]
    kind: String,
    #[schema(example = "Blue 20-strand", max_length = 200)]
    name: String,
    #[schema(example = "HMPE", max_length = 200)]
    material: Option<String>,
    #[schema(example = 20, minimum = 2, maximum = 100)]
    strands: Option<i64>,
    #[schema(example = "2026-01-09", format = Date)]
    made_on: Option<String>,
    /// Shots it had before its shots were logged here; goes with `starting_at`.
    #[schema(example = 1200, minimum = 0, maximum = 1_000_000)]
    starting_shots: Option<i64>,
    /// From when on the ledger counts for it; goes with `starting_shots`.
    #[schema(example = "2026-01-10T00:00:00Z", format = DateTime)]
    starting_at: Option<String>,
    /// In the club's currency.
    #[schema(example = 18.5, minimum = 0, maximum = 1_000_000)]
    unit_cost: Option<f64>,
}

fn kinds() -> RefOr<Schema> {
    one_of(PartKind::ALL.iter().map(|kind| kind.as_str()))
}

impl AddPart {
    fn parse(self, fields: &mut Fields, now: Timestamp) -> Option<Part> {
        let kind = fields.word("/kind", &self.kind, PartKind::parse, PartKind::ALL);
        let details = PartDetails {
            name: self.name,
            material: self.material,
            strands: self.strands,
            made_on: self.made_on,
            starting_shots: self.starting_shots,
            starting_at: self.starting_at,
            unit_cost: self.unit_cost,
        };
        details.parse(fields, kind, now)
    }
}

/// What is told of a part besides its kind.
pub(crate) struct PartDetails {
    pub(crate) name: String,
    pub(crate) material: Option<String>,
    pub(crate) strands: Option<i64>,
    pub(crate) made_on: Option<String>,
    pub(crate) starting_shots: Option<i64>,
    pub(crate) starting_at: Option<String>,
    pub(crate) unit_cost: Option<f64>,
}

impl PartDetails {
    /// The part, if its kind is known; none if a field was refused.
    pub(crate) fn parse(
        self,
        fields: &mut Fields,
        kind: Option<PartKind>,
        now: Timestamp,
    ) -> Option<Part> {
        let start = self.start(fields, now);
        let name = fields.name("/name", &self.name);
        let material = fields.take_if("/material", self.material, |text| Name::parse(&text));
        let strands = fields.take_if("/strands", self.strands, parts::strands);
        let made_on = fields.take_if("/made_on", self.made_on, |text| parse_date(&text));
        let unit_cost = fields.take_if("/unit_cost", self.unit_cost, Cost::from_amount);
        Some(Part {
            id: fresh_id::<PartId>(now),
            kind: kind?,
            name: name?,
            material,
            strands,
            made_on,
            start,
            unit_cost,
            retirement: None,
            created_at: now,
        })
    }

    fn start(&self, fields: &mut Fields, now: Timestamp) -> Option<Start> {
        match (self.starting_shots, &self.starting_at) {
            (None, None) => None,
            (Some(_), None) => {
                fields.refuse("/starting_at", "missing", "goes with starting_shots");
                None
            }
            (None, Some(_)) => {
                fields.refuse("/starting_shots", "missing", "goes with starting_at");
                None
            }
            (Some(shots), Some(at)) => {
                let shots = fields.take("/starting_shots", parts::starting_shots(shots));
                let at = fields.past("/starting_at", at, now);
                Some(Start { shots: shots?, at: at? })
            }
        }
    }
}

/// Add a part.
#[utoipa::path(
    operation_id = "add_part",
    tag = "parts",
    request_body = AddPart,
    responses((status = 201, description = "Added", body = PartBody))
)]
#[post("/parts")]
pub(crate) async fn add_part(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<AddPart>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let (Body(body, once), now) = (body, api.now());
    api.write_once(who, once, move |tx| {
        let mut fields = Fields::default();
        let part = body.parse(&mut fields, now);
        let part = fields.finish(part)?;
        store::parts::add(tx, who.club, &part)?;
        let added = Changed::of("add_part", Subject::Part, part.id.0);
        who.record(tx, now, added.after(&OnRecord::from(&part))?)?;
        let body = super::read::one(tx, who.club, part.id, now)?;
        Ok(Answer::created(&body)?.at(&format!("/parts/{}", part.id)))
    })
    .await
}
