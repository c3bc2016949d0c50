//! Changing a squad and its people.

use actix_web::{HttpResponse, patch, web};
use domain::{
    audit::Subject,
    ids::SquadId,
    members::Role,
    membership::People,
    squads::{Squad, SquadPart},
};
use serde::Deserialize;
use store::Tx;
use utoipa::ToSchema;
use uuid::Uuid;

use super::body::{SquadBody, people_of};
use crate::{
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::Fields,
    patch::{replacement, stays},
    server::Api,
    versions::{IfMatch, versioned},
};

/// Changes of a squad, as a merge patch: what is absent stays as it is; a list is replaced as a whole.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeSquad {
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "Thursday evening", max_length = 200, nullable = false)]
    name: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(max_items = 1000, nullable = false)]
    coach_member_ids: Option<Vec<Uuid>>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(max_items = 1000, nullable = false)]
    archer_member_ids: Option<Vec<Uuid>>,
}

impl ChangeSquad {
    /// Passes an owner, and a coach of the squad who changes nothing but its archers.
    fn check(&self, who: SignedIn, squad: &Squad) -> Result<(), ApiError> {
        let only_archers = self.name.is_none() && self.coach_member_ids.is_none();
        let coaches = who.role == Role::Coach && squad.coaches.contains(&who.member);
        if who.role == Role::Owner || (coaches && only_archers) {
            return Ok(());
        }
        Err(ApiError::Forbidden(
            "a squad is changed by owners of the club, and its archers by its coaches too",
        ))
    }

    /// Passes an owner who takes in whomever they like, and a coach who takes in nobody that they do not
    /// coach already: a squad is no way to reach people.
    fn check_taken_in(
        tx: &mut Tx<'_>,
        who: SignedIn,
        before: &Squad,
        after: &Squad,
    ) -> Result<(), ApiError> {
        if who.role == Role::Owner {
            return Ok(());
        }
        let coached = store::squads::coached_by(tx, who.club, who.member)?;
        let mut taken_in = after.archers.difference(&before.archers);
        if taken_in.all(|archer| coached.contains(archer)) {
            return Ok(());
        }
        Err(ApiError::Forbidden(
            "owners of the club take people into a squad whom you do not coach yet",
        ))
    }

    fn apply(self, people: &People, before: &Squad) -> Result<Squad, ApiError> {
        let mut fields = Fields::default();
        let name = stays(self.name, &before.name, |text| fields.name("/name", &text));
        let coaches = stays(self.coach_member_ids, &before.coaches, |named| {
            people_of(&mut fields, people, SquadPart::Coach, &named)
        });
        let archers = stays(self.archer_member_ids, &before.archers, |named| {
            people_of(&mut fields, people, SquadPart::Archer, &named)
        });
        let built =
            || Some(Squad { name: name?, coaches: coaches?, archers: archers?, ..before.clone() });
        fields.finish(built())
    }
}

/// Change a squad: an owner all of it, its coaches who shoots in it.
#[utoipa::path(
    operation_id = "change_squad",
    tag = "squads",
    params(
        ("id" = Uuid, Path, description = "The squad"),
        ("If-Match" = String, Header, description = "The ETag that it was read with")
    ),
    request_body = ChangeSquad,
    responses((status = 200, description = "Changed", body = SquadBody))
)]
#[patch("/squads/{id}")]
pub(crate) async fn change_squad(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    id: web::Path<Uuid>,
    body: Body<ChangeSquad>,
) -> Result<HttpResponse, ApiError> {
    let (id, body, now) = (SquadId(id.into_inner()), body.0, api.now());
    let changed = api.store.write(move |tx| {
        let people = store::members::current_to_change(tx, who.club)?;
        let before = store::squads::get(tx, who.club, id)?;
        body.check(who, &before)?;
        of.check(before.version)?;
        let after = body.apply(&people, &before)?;
        ChangeSquad::check_taken_in(tx, who, &before, &after)?;
        let squad = store::squads::change(tx, who.club, &after)?;
        let changed = Changed::of("change_squad", Subject::Squad, id.0);
        let changed = changed.before(&SquadBody::from(&before))?.after(&SquadBody::from(&squad))?;
        who.record(tx, now, changed)?;
        Ok::<_, ApiError>(squad)
    });
    let squad = changed.await?;
    Ok(versioned(&SquadBody::from(&squad), squad.version))
}
