//! What somebody changes of themselves.

use actix_web::{HttpResponse, patch, web};
use domain::{audit::Subject, members::Member, time::Zone};
use serde::Deserialize;
use utoipa::ToSchema;

use super::read::MeBody;
use crate::{
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::Fields,
    members::MemberBody,
    object::Object,
    patch::{Clearable, change, replacement, stays, stays_or_clears},
    quiet_hours::ChangeQuietHours,
    server::Api,
    versions::{IfMatch, versioned},
};

/// Changes of the person signed in, as a merge patch: what is absent stays as it is.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeMe {
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "Maren Ilves", max_length = 200, nullable = false)]
    name: Option<String>,
    /// Where they live; null means where the club shoots.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<String>, example = "Europe/Lisbon")]
    time_zone: Clearable<String>,
    /// When they want no mail that can wait; null means at the club's hours.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<ChangeQuietHours>)]
    quiet_hours: Clearable<Object<ChangeQuietHours>>,
}

impl ChangeMe {
    fn apply(self, before: Member) -> Result<Member, ApiError> {
        let mut fields = Fields::default();
        let name = stays(self.name, &before.name, |text| fields.name("/name", &text));
        let zone = stays_or_clears(self.time_zone, before.zone.as_ref(), |name| {
            fields.take("/time_zone", Zone::parse(&name))
        });
        let quiet = stays_or_clears(self.quiet_hours, before.quiet.as_ref(), |Object(hours)| {
            hours.apply(&mut fields, "/quiet_hours", before.quiet)
        });
        let built = || Some(Member { name: name?, zone: zone?, quiet: quiet?, ..before });
        fields.finish(built())
    }
}

/// Change what is one's own to change.
#[utoipa::path(
    operation_id = "change_me",
    tag = "accounts",
    params(("If-Match" = String, Header, description = "The ETag that it was read with")),
    request_body = ChangeMe,
    responses((status = 200, description = "Changed", body = MeBody))
)]
#[patch("/me")]
pub(crate) async fn change_me(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    body: Body<ChangeMe>,
) -> Result<HttpResponse, ApiError> {
    let (body, now) = (body.0, api.now());
    let changed = api.store.write(move |tx| {
        let before = store::members::get(tx, who.club, who.member)?;
        of.check(before.version)?;
        let changed = Changed::of("change_me", Subject::Member, who.member.0);
        let changed = changed.before(&MemberBody::one(tx, who.club, &before)?)?;
        let after = store::members::change(tx, who.club, &body.apply(before)?)?;
        let changed = changed.after(&MemberBody::one(tx, who.club, &after)?)?;
        who.record(tx, now, changed)?;
        MeBody::of(tx, who).map_err(ApiError::from)
    });
    let (body, version) = changed.await?;
    Ok(versioned(&body, version))
}
