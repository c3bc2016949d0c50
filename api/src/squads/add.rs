//! Making a squad.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    ids::SquadId,
    membership::People,
    squads::{Squad, SquadPart},
};
use jiff::Timestamp;
use serde::Deserialize;
use store::fresh_id;
use utoipa::ToSchema;
use uuid::Uuid;

use super::body::{SquadBody, people_of};
use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, body::Body, error::ApiError, fields::Fields,
    server::Api,
};

/// A squad to be made.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AddSquad {
    #[schema(example = "Thursday evening", max_length = 200)]
    name: String,
    /// Who coaches it: coaches or owners of the club.
    #[serde(default)]
    #[schema(max_items = 1000)]
    coach_member_ids: Vec<Uuid>,
    /// Who shoots in it.
    #[serde(default)]
    #[schema(max_items = 1000)]
    archer_member_ids: Vec<Uuid>,
}

impl AddSquad {
    fn parse(&self, people: &People, now: Timestamp) -> Result<Squad, ApiError> {
        let mut fields = Fields::default();
        let name = fields.name("/name", &self.name);
        let coaches = people_of(&mut fields, people, SquadPart::Coach, &self.coach_member_ids);
        let archers = people_of(&mut fields, people, SquadPart::Archer, &self.archer_member_ids);
        let built = || {
            Some(Squad {
                id: fresh_id::<SquadId>(now),
                name: name?,
                coaches: coaches?,
                archers: archers?,
                version: 1,
                created_at: now,
            })
        };
        fields.finish(built())
    }
}

/// Make a squad.
#[utoipa::path(
    operation_id = "add_squad",
    tag = "squads",
    request_body = AddSquad,
    responses((status = 201, description = "Made", body = SquadBody))
)]
#[post("/squads")]
pub(crate) async fn add_squad(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<AddSquad>,
) -> Result<HttpResponse, ApiError> {
    who.owns_the_club()?;
    let (Body(body, once), now) = (body, api.now());
    api.write_once(who, once, move |tx| {
        let people = store::members::current_to_change(tx, who.club)?;
        let squad = body.parse(&people, now)?;
        store::squads::add(tx, who.club, &squad)?;
        let (path, body) = (format!("/squads/{}", squad.id), SquadBody::from(&squad));
        let added = Changed::of("add_squad", Subject::Squad, squad.id.0);
        who.record(tx, now, added.after(&body)?)?;
        Ok(Answer::created(&body)?.at(&path).version(squad.version))
    })
    .await
}
