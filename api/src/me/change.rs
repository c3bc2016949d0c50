//! What somebody changes of themselves.

use std::collections::BTreeSet;

use actix_web::{HttpResponse, patch, web};
use domain::{audit::Subject, mail::MailKind, members::Member, time::Zone};
use serde::{Deserialize, Serialize};
use store::{Read, StoreError};
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema, schema::ArrayBuilder},
};

use super::{
    mail::{stoppable, tell_guardian},
    read::{MeBody, stopped_mail},
};
use crate::{
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::Fields,
    members::MemberBody,
    object::Object,
    openapi::one_of,
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
    /// The kinds of mail that they do not want, all of them; notices about safety, and mail about an
    /// account, cannot be stopped. The guardian of a minor is told.
    #[serde(default, deserialize_with = "replacement")]
    #[schema(schema_with = stoppable_kinds)]
    stopped_mail: Option<Vec<String>>,
}

fn stoppable_kinds() -> RefOr<Schema> {
    let kinds = one_of(MailKind::STOPPABLE.map(MailKind::as_str));
    ArrayBuilder::new().items(kinds).max_items(Some(MailKind::STOPPABLE.len())).build().into()
}

/// Somebody with the kinds of mail that they do not want, where those were given.
type Applied = (Member, Option<BTreeSet<MailKind>>);

impl ChangeMe {
    fn apply(self, before: Member) -> Result<Applied, ApiError> {
        let mut fields = Fields::default();
        let stopped =
            self.stopped_mail.map(|kinds| stoppable(&mut fields, "/stopped_mail", &kinds));
        let name = stays(self.name, &before.name, |text| fields.name("/name", &text));
        let zone = stays_or_clears(self.time_zone, before.zone.as_ref(), |name| {
            fields.take("/time_zone", Zone::parse(&name))
        });
        let quiet = stays_or_clears(self.quiet_hours, before.quiet.as_ref(), |Object(hours)| {
            hours.apply(&mut fields, "/quiet_hours", before.quiet)
        });
        let built = || {
            let member = Member { name: name?, zone: zone?, quiet: quiet?, ..before };
            Some((member, stopped))
        };
        fields.finish(built())
    }
}

/// Somebody and what they do not want, for the record of what was changed.
#[derive(Serialize)]
struct Recorded {
    #[serde(flatten)]
    member: MemberBody,
    stopped_mail: Vec<&'static str>,
}

impl Recorded {
    fn read(read: &mut Read<'_>, who: SignedIn, member: &Member) -> Result<Self, StoreError> {
        let stopped_mail = stopped_mail(read, who)?;
        Ok(Self { member: MemberBody::one(read, who.club, member)?, stopped_mail })
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
        let changed = changed.before(&Recorded::read(tx, who, &before)?)?;
        let (after, stopped) = body.apply(before)?;
        let after = store::members::change(tx, who.club, &after)?;
        if let Some(kinds) = stopped {
            let club = store::clubs::get(tx, who.club)?;
            let changed = store::stopped_mail::set(tx, who.club, who.member, kinds, now)?;
            tell_guardian(tx, (&club, &after), &changed, now)?;
        }
        let changed = changed.after(&Recorded::read(tx, who, &after)?)?;
        who.record(tx, now, changed)?;
        MeBody::of(tx, who).map_err(ApiError::from)
    });
    let (body, version) = changed.await?;
    Ok(versioned(&body, version))
}
