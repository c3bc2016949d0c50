//! Changing a bow: its name and measures, and its people.

use actix_web::{HttpResponse, patch, web};
use domain::{
    audit::Subject,
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    ids::{BowId, MemberId},
};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{BowBody, BowNowBody, add::divisions, people};
use crate::{
    answer::Answer,
    audit::Changed,
    auth::{NOT_THEIRS, SignedIn},
    body::Body,
    error::ApiError,
    fields::Fields,
    patch::Clearable,
    patch::{change, replacement},
    server::Api,
    versions::IfMatch,
};

/// What is to be changed of a bow (RFC 7396): what is absent stays, and null takes a person off.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeBow {
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "Blue recurve", max_length = 200, nullable = false)]
    name: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(schema_with = divisions)]
    division: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = 68.0, minimum = 24, maximum = 90, nullable = false)]
    bow_length_in: Option<f64>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = 40.0, minimum = 1, maximum = 200, nullable = false)]
    draw_weight_lbf: Option<f64>,
    /// Whose it is; null means the club's.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<Uuid>)]
    owner_member_id: Clearable<Uuid>,
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<Uuid>)]
    archer_member_id: Clearable<Uuid>,
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<Uuid>)]
    keeper_member_id: Clearable<Uuid>,
}

impl ChangeBow {
    /// Whether it says whose the bow is, who shoots or who keeps it, be it as before.
    const fn sets_people(&self) -> bool {
        self.owner_member_id.is_some()
            || self.archer_member_id.is_some()
            || self.keeper_member_id.is_some()
    }

    /// The bow as it is to be, and whom the change names.
    fn apply(self, bow: Bow) -> Result<(Bow, people::People), ApiError> {
        let mut fields = Fields::default();
        let name = self.name.map(|name| fields.name("/name", &name));
        let division = self
            .division
            .map(|division| fields.word("/division", &division, Division::parse, Division::ALL));
        let length = fields.take_if("/bow_length_in", self.bow_length_in, BowLengthIn::new);
        let weight = fields.take_if("/draw_weight_lbf", self.draw_weight_lbf, DrawWeightLbf::new);
        let person = |given: Clearable<Uuid>, now: Option<MemberId>| {
            given.map_or(now, |given| given.map(MemberId))
        };
        let named = [
            ("/owner_member_id", self.owner_member_id.flatten().map(MemberId)),
            ("/archer_member_id", self.archer_member_id.flatten().map(MemberId)),
            ("/keeper_member_id", self.keeper_member_id.flatten().map(MemberId)),
        ];
        let changed = Bow {
            name: name.flatten().unwrap_or(bow.name),
            division: division.flatten().unwrap_or(bow.division),
            length: length.unwrap_or(bow.length),
            draw_weight: weight.unwrap_or(bow.draw_weight),
            owner: person(self.owner_member_id, bow.owner),
            archer: person(self.archer_member_id, bow.archer),
            keeper: person(self.keeper_member_id, bow.keeper),
            ..bow
        };
        fields.finish(Some((changed, named)))
    }
}

/// Change a bow: an owner of the club, or a coach whose reach it is in. Where its people are set, nobody
/// counts any more as having said that it is not theirs to look after.
#[utoipa::path(
    operation_id = "change_bow",
    tag = "bows",
    params(("id" = Uuid, Path, description = "The bow")),
    request_body = ChangeBow,
    responses((status = 200, description = "Changed", body = BowNowBody))
)]
#[patch("/bows/{id}")]
pub(crate) async fn change_bow(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    read_as: IfMatch,
    body: Body<ChangeBow>,
) -> Result<HttpResponse, ApiError> {
    let (Body(body, once), id, now) = (body, BowId(id.into_inner()), api.now());
    api.write_once(who, once, move |tx| {
        let bow = store::bows::get(tx, who.club, id)?;
        who.looks_after_others()?;
        who.may_tend(tx, &bow)?;
        read_as.check(bow.version)?;
        let (before, whose) = (BowBody::from(&bow), (bow.owner, bow.archer));
        let people_set = body.sets_people();
        let (bow, named) = body.apply(bow)?;
        // A coach sets up the bows of their archers; whose they are is not theirs to change.
        let taken = bow.owner != whose.0 || (whose.1.is_some() && bow.archer.is_none());
        if taken && (bow.owner.or(whose.0)).is_some() {
            who.owns_the_club()?;
        }
        if !who.reach(tx)?.bow(&bow) {
            return Err(NOT_THEIRS);
        }
        people::check(tx, who, &named)?;
        let bow = store::bows::change(tx, who.club, &bow)?;
        if people_set {
            store::disowned_bows::clear(tx, who.club, bow.id)?;
        }
        let club = store::clubs::get(tx, who.club)?;
        let body = BowNowBody::read(tx, (who, &club), &bow, now)?;
        let changed = Changed::of("change_bow", Subject::Bow, id.0).about(Some(id));
        who.record(tx, now, changed.before(&before)?.after(&BowBody::from(&bow))?)?;
        Ok(Answer::ok(&body)?.version(bow.version))
    })
    .await
}
