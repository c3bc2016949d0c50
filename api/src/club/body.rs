//! How a club is written, and reading it.

use actix_web::{HttpResponse, get, web};
use domain::clubs::Club;
use jiff::Timestamp;
use serde::Serialize;
use store::StoreError;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{NoQuery, Query},
    quiet_hours::{QuietHoursBody, time_text},
    server::Api,
    versions::versioned,
};

/// A club and its settings.
#[derive(Serialize, ToSchema)]
pub(crate) struct ClubBody {
    id: Uuid,
    #[schema(example = "Bowmen of Invented Hill")]
    name: String,
    /// Dates are dates of this zone.
    #[schema(example = "Europe/Lisbon")]
    time_zone: String,
    /// The local time of day at which a day's reminders go out.
    #[schema(example = "07:30")]
    digest_at: String,
    /// When nobody wants mail that can wait, unless they say otherwise for themselves.
    quiet_hours: QuietHoursBody,
    /// What costs are in: a code of ISO 4217.
    #[schema(example = "EUR")]
    currency: String,
    /// How many strings the bench can make a week.
    #[schema(example = 4)]
    bench_jobs_per_week: u32,
    /// How many days before an event its people are told what their bows need, the longest first.
    #[schema(example = json!([28, 14, 7, 2]))]
    stages_days: Vec<u16>,
    /// The most mails a day to one person, those about safety and accounts not counted.
    #[schema(example = 3)]
    mails_per_day: u32,
    /// After how many days without a log of a bow its archer is asked; null means that nobody is.
    #[schema(example = json!(null))]
    nudge_after_days: Option<u32>,
    #[schema(value_type = String, format = DateTime)]
    created_at: Timestamp,
}

impl From<&Club> for ClubBody {
    fn from(club: &Club) -> Self {
        Self {
            id: club.id.0,
            name: club.name.to_string(),
            time_zone: club.zone.name().to_owned(),
            digest_at: time_text(club.digest_at),
            quiet_hours: club.quiet.into(),
            currency: club.currency.to_string(),
            bench_jobs_per_week: club.bench_jobs_per_week,
            stages_days: club.stages.days().to_vec(),
            mails_per_day: club.mails_per_day,
            nudge_after_days: club.nudge_after_days,
            created_at: club.created_at,
        }
    }
}

/// The club of whoever asks.
#[utoipa::path(
    operation_id = "get_club",
    tag = "club",
    responses((status = 200, description = "The club", body = ClubBody))
)]
#[get("/club")]
pub(crate) async fn get_club(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
) -> Result<HttpResponse, ApiError> {
    let found = api.store.read(move |read| store::clubs::get(read, who.club)).await;
    let club = found.map_err(|error: StoreError| ApiError::from(error))?;
    Ok(versioned(&ClubBody::from(&club), club.version))
}
