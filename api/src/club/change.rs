//! Changing a club's settings.

use actix_web::{HttpResponse, patch, web};
use domain::{
    audit::Subject,
    clubs::{Club, ClubError, Currency, Stages, bench_jobs, mails_per_day, nudge_after},
    time::{Zone, parse_time_of_day},
};
use serde::Deserialize;
use utoipa::ToSchema;

use super::body::ClubBody;
use crate::{
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::{Coded, Fields},
    object::Object,
    patch::{Clearable, change, replacement, stays, stays_or_clears},
    quiet_hours::ChangeQuietHours,
    server::Api,
    versions::{IfMatch, versioned},
};

/// Changes of a club's settings, as a merge patch: what is absent stays as it is.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeClub {
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "Bowmen of Invented Hill", max_length = 200, nullable = false)]
    name: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "Europe/Lisbon", nullable = false)]
    time_zone: Option<String>,
    /// The local time of day at which a day's reminders go out.
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "07:30", nullable = false)]
    digest_at: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(value_type = Option<ChangeQuietHours>, nullable = false)]
    quiet_hours: Option<Object<ChangeQuietHours>>,
    /// A code of ISO 4217.
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "EUR", min_length = 3, max_length = 3, nullable = false)]
    currency: Option<String>,
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = 4, minimum = 0, maximum = 1000, nullable = false)]
    bench_jobs_per_week: Option<i64>,
    /// How many days before an event its people are told what their bows need.
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = json!([28, 14, 7, 2]), min_items = 1, max_items = 8, nullable = false)]
    stages_days: Option<Vec<i64>>,
    /// The most mails a day to one person, those about safety and accounts not counted.
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = 3, minimum = 1, maximum = 20, nullable = false)]
    mails_per_day: Option<i64>,
    /// After how many days without a log of a bow its archer is asked; null means that nobody is.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<i64>, example = 10, minimum = 2, maximum = 90)]
    nudge_after_days: Clearable<i64>,
}

impl Coded for ClubError {
    fn code(&self) -> &'static str {
        match self {
            Self::Currency => "not_a_currency",
            Self::Bench | Self::MailsPerDay | Self::NudgeAfter => "out_of_range",
            Self::Stages => "bad_stages",
        }
    }
}

impl ChangeClub {
    fn apply(self, before: &Club) -> Result<Club, ApiError> {
        let mut fields = Fields::default();
        let name = stays(self.name, &before.name, |text| fields.name("/name", &text));
        let zone = stays(self.time_zone, &before.zone, |name| {
            fields.take("/time_zone", Zone::parse(&name))
        });
        let digest_at = stays(self.digest_at, &before.digest_at, |text| {
            fields.take("/digest_at", parse_time_of_day(&text))
        });
        let quiet = stays(self.quiet_hours, &before.quiet, |Object(hours)| {
            hours.apply(&mut fields, "/quiet_hours", Some(before.quiet))
        });
        let currency = stays(self.currency, &before.currency, |code| {
            fields.take("/currency", Currency::parse(&code))
        });
        let bench = stays(self.bench_jobs_per_week, &before.bench_jobs_per_week, |jobs| {
            fields.take("/bench_jobs_per_week", bench_jobs(jobs))
        });
        let stages = stays(self.stages_days, &before.stages, |days| {
            fields.take("/stages_days", Stages::new(&days))
        });
        let mails = stays(self.mails_per_day, &before.mails_per_day, |mails| {
            fields.take("/mails_per_day", mails_per_day(mails))
        });
        let nudge =
            stays_or_clears(self.nudge_after_days, before.nudge_after_days.as_ref(), |days| {
                fields.take("/nudge_after_days", nudge_after(days))
            });
        let built = || {
            Some(Club {
                name: name?,
                zone: zone?,
                digest_at: digest_at?,
                quiet: quiet?,
                currency: currency?,
                bench_jobs_per_week: bench?,
                stages: stages?,
                mails_per_day: mails?,
                nudge_after_days: nudge?,
                ..before.clone()
            })
        };
        fields.finish(built())
    }
}

/// Change the club's settings.
#[utoipa::path(
    operation_id = "change_club",
    tag = "club",
    params(("If-Match" = String, Header, description = "The ETag that it was read with")),
    request_body = ChangeClub,
    responses((status = 200, description = "Changed", body = ClubBody))
)]
#[patch("/club")]
pub(crate) async fn change_club(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    body: Body<ChangeClub>,
) -> Result<HttpResponse, ApiError> {
    who.owns_the_club()?;
    let (body, now) = (body.0, api.now());
    let changed = api.store.write(move |tx| {
        let before = store::clubs::get(tx, who.club)?;
        of.check(before.version)?;
        let club = store::clubs::change(tx, &body.apply(&before)?)?;
        let changed = Changed::of("change_club", Subject::Club, club.id.0);
        let changed = changed.before(&ClubBody::from(&before))?.after(&ClubBody::from(&club))?;
        who.record(tx, now, changed)?;
        Ok::<_, ApiError>(club)
    });
    let club = changed.await?;
    Ok(versioned(&ClubBody::from(&club), club.version))
}
