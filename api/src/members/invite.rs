//! Taking somebody in: they are put on record, and invited by mail.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    ids::{MemberId, SquadId},
    members::{EmailAddress, Member, Role},
    squads::{Squad, may_take_in},
    time::{Zone, parse_date},
};
use jiff::Timestamp;
use serde::Deserialize;
use store::{StoreError, Tx, fresh_id};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{
    body::{MemberBody, roles},
    guardian::NewGuardian,
};
use crate::{
    answer::Answer,
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::{FieldError, Fields},
    object::Object,
    quiet_hours::QuietHoursBody,
    server::Api,
};

/// Somebody to be invited.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct InviteMember {
    #[schema(example = "Ilse Quillfeather", max_length = 200)]
    name: String,
    #[schema(example = "ilse@club.example", max_length = 254)]
    email: String,
    #[schema(schema_with = roles)]
    role: String,
    /// Where they live, if not where the club shoots.
    #[schema(example = "Europe/Lisbon")]
    time_zone: Option<String>,
    /// When they want no mail that can wait, if not at the club's hours.
    #[schema(value_type = Option<QuietHoursBody>)]
    quiet_hours: Option<Object<QuietHoursBody>>,
    /// Until when they are a minor. A minor needs a guardian.
    #[schema(example = "2026-01-31", format = Date)]
    minor_until: Option<String>,
    #[schema(value_type = Option<NewGuardian>)]
    guardian: Option<Object<NewGuardian>>,
    /// Squads that they join: an archer to shoot in them, anybody else to coach them.
    #[serde(default)]
    squad_ids: Vec<Uuid>,
}

impl InviteMember {
    fn parse(&self, now: Timestamp) -> Result<Member, ApiError> {
        let mut fields = Fields::default();
        let name = fields.name("/name", &self.name);
        let email = fields.take("/email", EmailAddress::parse(&self.email));
        let role = fields.word("/role", &self.role, Role::parse, Role::ALL);
        let zone = fields.take_if("/time_zone", self.time_zone.as_deref(), Zone::parse);
        let quiet = self.quiet_hours.as_ref();
        let quiet = quiet.and_then(|Object(hours)| hours.parse(&mut fields, "/quiet_hours"));
        let minor_until = fields.take_if("/minor_until", self.minor_until.as_deref(), parse_date);
        let guardian = self.guardian.as_ref();
        let guardian = guardian.and_then(|Object(guardian)| guardian.parse(&mut fields));
        let built = || {
            let member = Member::new(fresh_id::<MemberId>(now), name?, email?, role?, now);
            Some(Member { zone, quiet, minor_until, guardian, ..member })
        };
        fields.finish(built())
    }

    /// The squads that they join.
    fn squads(&self, tx: &mut Tx<'_>, who: SignedIn) -> Result<Vec<Squad>, ApiError> {
        let mut squads: Vec<Squad> = Vec::new();
        for (place, id) in self.squad_ids.iter().enumerate() {
            match store::squads::get(tx, who.club, SquadId(*id)) {
                Err(StoreError::NotFound { .. }) => {
                    let (pointer, detail) =
                        (format!("/squad_ids/{place}"), "must be a squad of your club");
                    let error = FieldError::new(&pointer, "unknown_squad", detail);
                    return Err(ApiError::Invalid(vec![error]));
                }
                Ok(squad) if squads.contains(&squad) => {}
                found => squads.push(found?),
            }
        }
        Ok(squads)
    }
}

/// Invite somebody to the club. They are put on record at once, and find a link in their mail by which
/// they choose a password. A coach invites archers into squads of their own.
#[utoipa::path(
    operation_id = "invite_member",
    tag = "members",
    request_body = InviteMember,
    responses((status = 201, description = "On record, and invited", body = MemberBody))
)]
#[post("/members")]
pub(crate) async fn invite_member(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<InviteMember>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let (Body(body, once), now) = (body, api.now());
    api.write_once(who, once, move |tx| {
        let member = body.parse(now)?;
        let people = store::members::current_to_change(tx, who.club)?;
        let mut squads = body.squads(tx, who)?;
        if !may_take_in(who.member, who.role, member.role, &squads) {
            return Err(ApiError::Forbidden(
                "a coach invites archers, and into squads of their own",
            ));
        }
        people.check_address(member.id, &member.email)?;
        member.check_minor(store::clubs::get(tx, who.club)?.zone.date_of(now))?;
        store::members::add(tx, who.club, &member)?;
        for squad in &mut squads {
            squad.take_in(member.id, member.role);
            store::squads::change(tx, who.club, squad)?;
        }
        store::links::invite(tx, who.club, &member, now)?;
        let body = MemberBody::one(tx, who.club, &member)?;
        let invited = Changed::of("invite_member", Subject::Member, member.id.0);
        who.record(tx, now, invited.after(&body)?)?;
        let path = format!("/members/{}", member.id);
        Ok(Answer::created(&body)?.at(&path).version(member.version))
    })
    .await
}
