//! Who is signed in.

use actix_web::{HttpResponse, get, web};
use domain::{
    mail::MailKind,
    squads::{Squad, SquadPart},
};
use jiff::civil::Date;
use serde::Serialize;
use store::{Read, StoreError};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::SignedIn,
    error::ApiError,
    members::{EmailRefusedBody, GuardianBody},
    paging::{NoQuery, Query},
    quiet_hours::QuietHoursBody,
    server::Api,
    versions::versioned,
};

/// The person signed in, and their club.
#[derive(Serialize, ToSchema)]
pub(crate) struct MeBody {
    member_id: Uuid,
    #[schema(example = "Maren Ilves")]
    name: String,
    #[schema(example = "maren@club.example")]
    email: String,
    /// What a relay said of the address, if there is no such mailbox.
    email_refused: Option<EmailRefusedBody>,
    #[schema(example = "owner")]
    role: &'static str,
    /// Where they live; null means where the club shoots.
    #[schema(example = "Europe/Lisbon")]
    time_zone: Option<String>,
    /// When they want no mail that can wait; null means at the club's hours.
    quiet_hours: Option<QuietHoursBody>,
    /// Until when they are a minor.
    #[schema(value_type = Option<String>, format = Date)]
    minor_until: Option<Date>,
    guardian: Option<GuardianBody>,
    squads: Vec<MySquad>,
    /// The kinds of mail that they do not want.
    #[schema(example = json!(["digest"]))]
    stopped_mail: Vec<&'static str>,
    club_id: Uuid,
    #[schema(example = "Bowmen of Invented Hill")]
    club_name: String,
    #[schema(example = "Europe/Lisbon")]
    club_time_zone: String,
    club_quiet_hours: QuietHoursBody,
}

/// A squad of the person signed in, and their part in it.
#[derive(Serialize, ToSchema)]
struct MySquad {
    squad_id: Uuid,
    #[schema(example = "Thursday evening")]
    name: String,
    /// `coach` or `archer`.
    #[schema(example = "archer")]
    part: &'static str,
}

impl MySquad {
    fn of(squad: &Squad, part: SquadPart) -> Self {
        Self { squad_id: squad.id.0, name: squad.name.to_string(), part: part.as_str() }
    }
}

impl MeBody {
    /// The person signed in as they are on record now, and their version.
    pub(super) fn of(read: &mut Read<'_>, who: SignedIn) -> Result<(Self, i32), StoreError> {
        let member = store::members::get(read, who.club, who.member)?;
        let club = store::clubs::get(read, who.club)?;
        let mut squads = Vec::new();
        for squad in store::squads::of_member(read, who.club, who.member)? {
            let coached = squad.coaches.contains(&who.member).then_some(SquadPart::Coach);
            let shot = squad.archers.contains(&who.member).then_some(SquadPart::Archer);
            squads.extend(coached.into_iter().chain(shot).map(|part| MySquad::of(&squad, part)));
        }
        let body = Self {
            member_id: member.id.0,
            name: member.name.to_string(),
            email: member.email.to_string(),
            email_refused: member.refused.as_ref().map(EmailRefusedBody::from),
            role: member.role.as_str(),
            time_zone: member.zone.as_ref().map(|zone| zone.name().to_owned()),
            quiet_hours: member.quiet.map(QuietHoursBody::from),
            minor_until: member.minor_until,
            guardian: member.guardian.as_ref().map(GuardianBody::from),
            squads,
            stopped_mail: stopped_mail(read, who)?,
            club_id: club.id.0,
            club_name: club.name.to_string(),
            club_time_zone: club.zone.name().to_owned(),
            club_quiet_hours: club.quiet.into(),
        };
        Ok((body, member.version))
    }
}

/// The kinds of mail that somebody does not want.
pub(crate) fn stopped_mail(
    read: &mut Read<'_>,
    who: SignedIn,
) -> Result<Vec<&'static str>, StoreError> {
    let kinds = store::stopped_mail::of_member(read, who.club, who.member)?;
    Ok(kinds.into_iter().map(MailKind::as_str).collect())
}

/// The person signed in.
#[utoipa::path(
    operation_id = "get_me",
    tag = "accounts",
    responses((status = 200, description = "The person signed in", body = MeBody))
)]
#[get("/me")]
pub(crate) async fn get_me(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
) -> Result<HttpResponse, ApiError> {
    let found = api.store.read(move |read| MeBody::of(read, who)).await;
    let (body, version) = found.map_err(|error: StoreError| ApiError::from(error))?;
    Ok(versioned(&body, version))
}
