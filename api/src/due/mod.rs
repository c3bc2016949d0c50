//! What is due in the club, and why.

use std::sync::Arc;

use actix_web::{HttpResponse, get, web};
use domain::{
    bows::Bow,
    clubs::Club,
    forecast::Outlook,
    ids::{PartId, SquadId},
    rules::Condition,
    text::Name,
    time::parse_date,
};
use jiff::{Timestamp, civil::Date};
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

/// A part that wants work, and its bow; or a bow that must not be shot though no part of it wants work.
#[derive(Serialize, ToSchema)]
pub(crate) struct DueBody {
    /// The bow that the part hangs under, directly or on a string.
    bow: BowBody,
    /// `do_not_shoot` where the bow itself must not be shot; else that of the part.
    #[schema(example = "due")]
    condition: &'static str,
    /// Why, in words and numbers.
    #[schema(example = "wax the string: 520 shots since last waxed; plan 500")]
    reason: String,
    /// Why the bow itself must not be shot, whatever hangs on it; null if nothing says so.
    stopped: Option<String>,
    /// The part; null for a bow that must not be shot and under which no part wants work.
    part: Option<StateBody>,
}

/// A row before it is written.
struct Row {
    bow: Arc<Bow>,
    stopped: Option<String>,
    part: Option<(Judged, Outlook)>,
}

impl Row {
    /// What rows are sorted by: how urgent, of which bow, and which part, a bow before its parts.
    fn place(&self) -> (Condition, &Name, Option<PartId>) {
        let of_part = self.part.as_ref().map(|(one, _)| one);
        let condition = of_part.map(|one| one.assessment.condition);
        let condition = match &self.stopped {
            Some(_) => Condition::DoNotShoot,
            None => condition.unwrap_or(Condition::Sound),
        };
        (condition, &self.bow.name, of_part.map(|one| one.record.part.id))
    }

    fn body(self, club: &Club, now: Timestamp) -> DueBody {
        let condition = self.place().0.as_str();
        let of_part = self.part.as_ref().map(|(one, _)| one.assessment.reason.clone());
        let part = self.part.map(|(one, outlook)| StateBody::foreseen(one, club, now, &outlook));
        DueBody {
            bow: BowBody::from(&*self.bow),
            condition,
            reason: self.stopped.clone().or(of_part).unwrap_or_default(),
            stopped: self.stopped,
            part,
        }
    }
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

/// Every part under a bow within reach that must not be shot, is overdue, due, or soon due, the most urgent
/// first; and every bow that must not be shot itself, with nothing on it too. What is in the case wants no
/// work until it is fitted.
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
        let (pace, had) = (paces.get(&row.bow.id), due.len());
        let stopped = row.stop.map(|stop| stop.reason(&club.zone));
        for one in row.parts {
            let outlook = Outlook::of(&one.assessment, pace, today);
            if one.assessment.condition.wants_work() || comes_due(&outlook, before) {
                let (bow, stopped) = (Arc::clone(&row.bow), stopped.clone());
                due.push(Row { bow, stopped, part: Some((one, outlook)) });
            }
        }
        if stopped.is_some() && due.len() == had {
            due.push(Row { bow: row.bow, stopped, part: None });
        }
    }
    due.sort_by(|a, b| a.place().cmp(&b.place()));
    let body = due.into_iter().map(|row| row.body(&club, now));
    known.answer(&ListBody::whole(body.collect()))
}

/// Whether work is expected before a day.
fn comes_due(outlook: &Outlook, before: Option<Date>) -> bool {
    before.zip(outlook.first.p50_on).is_some_and(|(before, p50_on)| p50_on < before)
}
