//! Logs that may be of one shooting, for people to look at: nothing is merged unless one of them asks.

use actix_web::{get, web};
use domain::{ids::BowId, ledger::Pair};
use jiff::{ToSpan, civil::Date};
use serde::{Deserialize, Serialize};
use store::Read;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::ShotLogBody;
use crate::{
    auth::SignedIn,
    days::Days,
    error::ApiError,
    fields::{FieldError, Fields},
    paging::{ListBody, Query},
    server::Api,
    within_reach,
};

/// The most days that are looked through at once.
const MOST_DAYS: i64 = 92;
/// So many days, where no first one is given.
const USUAL_DAYS: i64 = 31;

/// In which logs.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct DuplicatesQuery {
    /// Only in those of this bow.
    bow_id: Option<Uuid>,
    /// The first day of the club that is looked at; absent means a month before the last one.
    #[param(example = "2026-01-01", format = Date)]
    from: Option<String>,
    /// The last day, at most 92 days in all; absent means today.
    #[param(example = "2026-01-31", format = Date)]
    until: Option<String>,
}

/// Two logs that may be of one shooting.
#[derive(Serialize, ToSchema)]
pub(crate) struct PairBody {
    /// The one that reached the server first.
    first: ShotLogBody,
    second: ShotLogBody,
}

impl From<Pair> for PairBody {
    fn from(Pair { first, second }: Pair) -> Self {
        Self { first: first.into(), second: second.into() }
    }
}

impl DuplicatesQuery {
    /// The days that are asked for.
    fn days(&self, today: Date) -> Result<Days, ApiError> {
        let mut fields = Fields::default();
        let asked = Days::parse(&mut fields, self.from.as_deref(), self.until.as_deref());
        let asked = fields.finish(Some(asked))?;
        let until = asked.until.unwrap_or_else(|| asked.from.map_or(today, |from| from.max(today)));
        let month_before = until.checked_sub((USUAL_DAYS - 1).days()).unwrap_or(until);
        let from = asked.from.unwrap_or(month_before);
        let days = i64::from(from.until(until).map_or(i32::MAX, |span| span.get_days())) + 1;
        if days > MOST_DAYS {
            let detail = format!("must be within {MOST_DAYS} days of from");
            return Err(ApiError::Invalid(vec![FieldError::new("/until", "out_of_range", detail)]));
        }
        Ok(Days { from: Some(from), until: Some(until) })
    }

    /// The bows that are asked for.
    fn bows(&self, read: &mut Read<'_>, who: SignedIn) -> Result<Vec<BowId>, ApiError> {
        let Some(bow) = self.bow_id.map(BowId) else {
            return Ok(within_reach::bows(read, who)?.into_keys().collect());
        };
        let bow = store::bows::get(read, who.club, bow)?;
        who.may_tend(read, &bow)?;
        Ok(vec![bow.id])
    }
}

/// Pairs of logs that may be of one shooting: of the same bow on the same day with as many shots,
/// entered by two people or at most two hours apart. By bow and time, and always all of them. Both count
/// until one is merged into the other, or made void.
#[utoipa::path(
    operation_id = "list_possible_duplicates",
    tag = "shot-logs",
    params(DuplicatesQuery),
    responses((status = 200, description = "The pairs", body = ListBody<PairBody>))
)]
#[get("/shot-logs/possible-duplicates")]
pub(crate) async fn list_possible_duplicates(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<DuplicatesQuery>,
) -> Result<web::Json<ListBody<PairBody>>, ApiError> {
    let (query, now) = (query.0, api.now());
    let pairs = api.store.read(move |read| {
        let zone = store::clubs::get(read, who.club)?.zone;
        let bounds = query.days(zone.date_of(now))?.bounds(&zone)?;
        let bows = query.bows(read, who)?;
        let (Some(begin), Some(end)) = bounds else { return Ok(Vec::new()) };
        let span = (begin, end);
        Ok::<_, ApiError>(store::ledger::possible_duplicates(read, who.club, &zone, &bows, span)?)
    });
    Ok(web::Json(ListBody::whole(pairs.await?.into_iter().map(PairBody::from).collect())))
}
