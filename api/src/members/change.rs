//! Changing what is on record of somebody.

use actix_web::{HttpResponse, patch, web};
use domain::{
    audit::Subject,
    ids::MemberId,
    members::{EmailAddress, Member, Role},
    membership::MembershipError,
    squads::SquadPart,
    time::{Zone, parse_date},
};
use jiff::Timestamp;
use serde::Deserialize;
use store::Tx;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{
    body::{MemberBody, roles},
    guardian::ChangeGuardian,
    invitation::invite_again,
    read::NOT_THEIRS,
};
use crate::{
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::Fields,
    object::Object,
    patch::{Clearable, change, replacement, stays, stays_or_clears},
    quiet_hours::ChangeQuietHours,
    server::Api,
    versions::{IfMatch, versioned},
};

/// Changes of a person, as a merge patch: what is absent stays as it is.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeMember {
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "Ilse Quillfeather", max_length = 200, nullable = false)]
    name: Option<String>,
    /// Where mail to them goes, and what they sign in with. Whoever sets it, even to the same, says that mail
    /// reaches them there.
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "ilse@club.example", max_length = 254, nullable = false)]
    email: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(schema_with = roles)]
    role: Option<String>,
    /// Where they live; null means where the club shoots.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<String>, example = "Europe/Lisbon")]
    time_zone: Clearable<String>,
    /// When they want no mail that can wait; null means at the club's hours.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<ChangeQuietHours>)]
    quiet_hours: Clearable<Object<ChangeQuietHours>>,
    /// Until when they are a minor; null means that they are of age.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<String>, example = "2026-01-31", format = Date)]
    minor_until: Clearable<String>,
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<ChangeGuardian>)]
    guardian: Clearable<Object<ChangeGuardian>>,
}

impl ChangeMember {
    /// Whether it changes nothing but what their coach looks after too.
    const fn is_for_coaches(&self) -> bool {
        self.name.is_none()
            && self.email.is_none()
            && self.role.is_none()
            && self.time_zone.is_none()
            && self.minor_until.is_none()
            && self.guardian.is_none()
    }

    /// The person as they are afterwards.
    fn apply(self, before: &Member) -> Result<Member, ApiError> {
        let mut fields = Fields::default();
        let name = stays(self.name, &before.name, |text| fields.name("/name", &text));
        let refused = before.refused.clone().filter(|_| self.email.is_none());
        let email = stays(self.email, &before.email, |text| {
            fields.take("/email", EmailAddress::parse(&text))
        });
        let role = stays(self.role, &before.role, |word| {
            fields.word("/role", &word, Role::parse, Role::ALL)
        });
        let zone = stays_or_clears(self.time_zone, before.zone.as_ref(), |name| {
            fields.take("/time_zone", Zone::parse(&name))
        });
        let quiet = stays_or_clears(self.quiet_hours, before.quiet.as_ref(), |Object(hours)| {
            hours.apply(&mut fields, "/quiet_hours", before.quiet)
        });
        let minor_until = stays_or_clears(self.minor_until, before.minor_until.as_ref(), |text| {
            fields.take("/minor_until", parse_date(&text))
        });
        let guardian =
            stays_or_clears(self.guardian, before.guardian.as_ref(), |Object(guardian)| {
                guardian.apply(&mut fields, before.guardian.as_ref())
            });
        let built = || {
            Some(Member {
                name: name?,
                email: email?,
                role: role?,
                zone: zone?,
                quiet: quiet?,
                minor_until: minor_until?,
                guardian: guardian?,
                refused,
                ..before.clone()
            })
        };
        fields.finish(built())
    }
}

/// Change a person. Owners change everything; a coach changes the quiet hours of the archers of their
/// squads; the rest is for the person themselves, at `/me`. Who a minor's guardian is decides where
/// mail and links go, and is therefore for owners.
#[utoipa::path(
    operation_id = "change_member",
    tag = "members",
    params(
        ("id" = Uuid, Path, description = "The person"),
        ("If-Match" = String, Header, description = "The ETag that they were read with")
    ),
    request_body = ChangeMember,
    responses((status = 200, description = "Changed", body = MemberBody))
)]
#[patch("/members/{id}")]
pub(crate) async fn change_member(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    id: web::Path<Uuid>,
    body: Body<ChangeMember>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let (id, now, body) = (MemberId(id.into_inner()), api.now(), body.0);
    let changed = api.store.write(move |tx| {
        let people = store::members::current_to_change(tx, who.club)?;
        let before = store::members::get(tx, who.club, id)?;
        may_change(tx, who, id, &body)?;
        before.check_current()?;
        of.check(before.version)?;
        let changed = Changed::of("change_member", Subject::Member, id.0);
        let changed = changed.before(&MemberBody::one(tx, who.club, &before)?)?;
        let after = body.apply(&before)?;
        let today = store::clubs::get(tx, who.club)?.zone.date_of(now);
        people.check_change(&after, today)?;
        let after = store::members::change(tx, who.club, &after)?;
        follow(tx, who, &before, &after, now)?;
        let body = MemberBody::one(tx, who.club, &after)?;
        who.record(tx, now, changed.after(&body)?)?;
        Ok::<_, ApiError>((body, after.version))
    });
    let (body, version) = changed.await?;
    Ok(versioned(&body, version))
}

/// Passes an owner, and the coach of somebody's squad if it is a coach's to change.
fn may_change(
    tx: &mut Tx<'_>,
    who: SignedIn,
    member: MemberId,
    change: &ChangeMember,
) -> Result<(), ApiError> {
    if who.role == Role::Owner {
        return Ok(());
    }
    if !store::squads::coached_by(tx, who.club, who.member)?.contains(&member) {
        return Err(NOT_THEIRS);
    }
    if change.is_for_coaches() {
        Ok(())
    } else {
        Err(who.owns_the_club().err().unwrap_or(NOT_THEIRS))
    }
}

/// What goes with a change: another address is signed in by, or invited; an archer coaches nobody.
fn follow(
    tx: &mut Tx<'_>,
    who: SignedIn,
    before: &Member,
    after: &Member,
    now: Timestamp,
) -> Result<(), ApiError> {
    if before.email != after.email {
        // What was mailed to the old address is not for whoever reads it now.
        store::access::void_links(tx, who.club, after.id, now)?;
        if store::access::password_hash(tx, who.club, after.id)?.is_none() {
            invite_again(tx, who, after, now)?;
        } else if !store::access::move_sign_in(tx, who.club, after.id, &after.email)? {
            return Err(MembershipError::AddressTaken.into());
        }
    }
    if before.role != after.role && after.role == Role::Archer {
        store::squads::take_out(tx, who.club, after.id, &[SquadPart::Coach])?;
    }
    Ok(())
}
