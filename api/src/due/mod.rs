//! What is due in the club, and why.

use std::sync::Arc;

use actix_web::{HttpResponse, get, web};
use domain::{forecast::Outlook, ids::SquadId, time::parse_date};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use store::due::Judged;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::SignedIn,
    bows::BowBody,
    error::ApiError,
    fields::Fields,
    fresh::Known,
    paging::{ListBody, Query},
    parts::StateBody,
    server::Api,
    which_bows::{SeenBows, WhichBows},
};

/// A part that wants work, and its bow.
#[derive(Serialize, ToSchema)]
pub(crate) struct DueBody {
    /// The bow it hangs under, directly or on a string.
    bow: BowBody,
    part: StateBody,
}

/// What a list of what is due takes.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct DueQuery {
    /// Only bows of this squad's archers; for who coaches it, and for owners of the club.
    squad_id: Option<Uuid>,
    /// Also what is expected, as likely as not, to come due before this day.
    #[param(format = Date, example = "2026-01-31")]
    before: Option<String>,
}

impl DueQuery {
    fn before(&self) -> Result<Option<Date>, ApiError> {
        let mut fields = Fields::default();
        let before = fields.take_if("/before", self.before.as_deref(), parse_date);
        fields.finish(Some(before))
    }
}

/// Every part under a bow within reach that is overdue, due, or soon due, the most urgent first. What
/// is in the case wants no work until it is fitted.
#[utoipa::path(
    operation_id = "list_due",
    tag = "due",
    params(
        DueQuery,
        ("If-None-Match" = Option<String>, Header, description = "The ETag of the answer before")
    ),
    responses(
        (status = 200, description = "What is due", body = ListBody<DueBody>),
        (status = 304, description = "It is as it was")
    )
)]
#[get("/due")]
pub(crate) async fn list_due(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<DueQuery>,
    known: Known,
) -> Result<HttpResponse, ApiError> {
    let (now, before, squad) = (api.now(), query.0.before()?, query.0.squad_id.map(SquadId));
    let seen = api.store.read(move |read| {
        let (which, _no_event) = WhichBows::read(read, who, squad, None)?;
        Ok::<_, ApiError>(SeenBows::read(read, who, &which, now)?)
    });
    let SeenBows { club, rows, paces } = seen.await?;
    let today = club.zone.date_of(now);
    let mut due = Vec::new();
    for row in rows {
        let pace = paces.get(&row.bow.id);
        for one in row.parts {
            let outlook = Outlook::of(&one.assessment, pace, today);
            if one.assessment.condition.wants_work() || comes_due(&outlook, before) {
                due.push((Arc::clone(&row.bow), one, outlook));
            }
        }
    }
    due.sort_by(|(a_bow, a, _), (b_bow, b, _)| {
        let key = |one: &Judged| (one.assessment.condition, one.record.part.id);
        let ((a_condition, a_part), (b_condition, b_part)) = (key(a), key(b));
        a_condition
            .cmp(&b_condition)
            .then_with(|| a_bow.name.cmp(&b_bow.name))
            .then(a_part.cmp(&b_part))
    });
    let body = due.into_iter().map(|(bow, one, outlook)| DueBody {
        bow: BowBody::from(&*bow),
        part: StateBody::foreseen(one, &club, now, &outlook),
    });
    known.answer(&ListBody::whole(body.collect()))
}

/// Whether work is expected before a day.
fn comes_due(outlook: &Outlook, before: Option<Date>) -> bool {
    before.zip(outlook.first.p50_on).is_some_and(|(before, p50_on)| p50_on < before)
}
