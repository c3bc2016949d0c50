//! Adding a bow.

use actix_web::{HttpResponse, post, web};
use domain::{
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    ids::{BowId, MemberId},
};
use jiff::Timestamp;
use serde::Deserialize;
use store::{StoreError, fresh_id};
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use super::BowBody;
use crate::{
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::{FieldError, Fields},
    openapi::one_of,
    server::Api,
};

/// A bow to be added.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AddBow {
    #[schema(example = "Blue recurve", max_length = 200)]
    name: String,
    #[schema(schema_with = divisions)]
    division: String,
    /// What the maker prints on the limbs.
    #[schema(example = 68.0, minimum = 24, maximum = 90)]
    bow_length_in: f64,
    #[schema(example = 38.0, minimum = 1, maximum = 200)]
    draw_weight_lbf: f64,
    /// Whose it is; absent means the club's.
    owner_member_id: Option<Uuid>,
    archer_member_id: Option<Uuid>,
    keeper_member_id: Option<Uuid>,
}

fn divisions() -> RefOr<Schema> {
    one_of(Division::ALL.iter().map(|division| division.as_str()))
}

impl AddBow {
    fn parse(&self, now: Timestamp) -> Result<Bow, ApiError> {
        let mut fields = Fields::default();
        let name = fields.name("/name", &self.name);
        let division = fields.word("/division", &self.division, Division::parse, Division::ALL);
        let length = fields.take("/bow_length_in", BowLengthIn::new(self.bow_length_in));
        let draw_weight = fields.take("/draw_weight_lbf", DrawWeightLbf::new(self.draw_weight_lbf));
        let built = || {
            Some(Bow {
                id: fresh_id::<BowId>(now),
                name: name?,
                division: division?,
                length: length?,
                draw_weight: draw_weight?,
                owner: self.owner_member_id.map(MemberId),
                archer: self.archer_member_id.map(MemberId),
                keeper: self.keeper_member_id.map(MemberId),
                version: 1,
                created_at: now,
            })
        };
        fields.finish(built())
    }
}

/// Add a bow.
#[utoipa::path(
    operation_id = "add_bow",
    tag = "bows",
    request_body = AddBow,
    responses((status = 201, description = "Added", body = BowBody))
)]
#[post("/bows")]
pub(crate) async fn add_bow(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<AddBow>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let bow = body.0.parse(api.now())?;
    let bow = api
        .store
        .write(move |tx| {
            let people = [
                ("/owner_member_id", bow.owner),
                ("/archer_member_id", bow.archer),
                ("/keeper_member_id", bow.keeper),
            ];
            for (pointer, member) in people {
                let Some(member) = member else { continue };
                match store::members::get(tx, who.club, member) {
                    Err(StoreError::NotFound { .. }) => {
                        let detail = "must be a member of your club";
                        let error = FieldError::new(pointer, "unknown_member", detail);
                        return Err(ApiError::Invalid(vec![error]));
                    }
                    found => found?,
                };
            }
            store::bows::add(tx, who.club, &bow)?;
            Ok(bow)
        })
        .await?;
    let location = format!("/api/v1/bows/{}", bow.id);
    Ok(HttpResponse::Created().insert_header(("Location", location)).json(BowBody::from(bow)))
}
