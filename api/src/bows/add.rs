//! Adding a bow.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    ids::{BowId, MemberId},
};
use jiff::Timestamp;
use serde::Deserialize;
use store::fresh_id;
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use super::{BowBody, BowNowBody, people};
use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, body::Body, error::ApiError, fields::Fields,
    openapi::one_of, server::Api,
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

pub(super) fn divisions() -> RefOr<Schema> {
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

/// Add a bow; a coach, one that is then within their reach.
#[utoipa::path(
    operation_id = "add_bow",
    tag = "bows",
    request_body = AddBow,
    responses((status = 201, description = "Added", body = BowNowBody))
)]
#[post("/bows")]
pub(crate) async fn add_bow(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<AddBow>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let (Body(body, once), now) = (body, api.now());
    api.write_once(who, once, move |tx| {
        let bow = body.parse(now)?;
        people::check(tx, who, &people::of(&bow))?;
        who.may_tend(tx, &bow)?;
        store::bows::add(tx, who.club, &bow)?;
        let club = store::clubs::get(tx, who.club)?;
        let body = BowNowBody::read(tx, (who, &club), &bow, now)?;
        let changed = Changed::of("add_bow", Subject::Bow, bow.id.0).about(Some(bow.id));
        who.record(tx, now, changed.after(&BowBody::from(&bow))?)?;
        Ok(Answer::created(&body)?.at(&format!("/bows/{}", bow.id)).version(bow.version))
    })
    .await
}
