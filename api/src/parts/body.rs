//! How a part is written, and what it is now.

use domain::{
    clubs::Club,
    forecast::{Band, Outlook},
    ids::PartId,
    parts::{Cost, Part, PartKind},
    rules::{Condition, Verdict},
};
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use store::due::Judged;
use utoipa::ToSchema;
use uuid::Uuid;

/// A part, its wear and its condition.
#[derive(Serialize, ToSchema)]
pub(crate) struct PartBody {
    #[serde(flatten)]
    details: DetailsBody,
    #[serde(flatten)]
    state: StateBody,
}

/// What was said of a part when it was added.
#[derive(Serialize, ToSchema)]
pub(crate) struct DetailsBody {
    #[schema(example = "HMPE")]
    material: Option<String>,
    #[schema(example = 20)]
    strands: Option<u16>,
    #[schema(value_type = Option<String>, format = Date)]
    made_on: Option<Date>,
    /// Shots it had before its shots were logged here.
    starting_shots: Option<u32>,
    #[schema(value_type = Option<String>, format = DateTime)]
    starting_at: Option<Timestamp>,
    /// In the club's currency.
    unit_cost: Option<f64>,
    retirement: Option<RetirementBody>,
    #[schema(value_type = String, format = DateTime)]
    created_at: Timestamp,
}

/// How a part's life ended.
#[derive(Serialize, ToSchema)]
pub(crate) struct RetirementBody {
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    #[schema(example = "worn")]
    end: &'static str,
    reason: String,
}

/// What a part is now, and why.
#[derive(Serialize, ToSchema)]
pub(crate) struct StateBody {
    id: Uuid,
    #[schema(example = "string")]
    kind: &'static str,
    #[schema(example = "Blue 20-strand")]
    name: String,
    /// The bow it hangs under now, directly or on a string.
    bow_id: Option<Uuid>,
    wear: WearBody,
    #[schema(example = "due")]
    condition: &'static str,
    /// Why, in words and numbers.
    #[schema(example = "wax the string: 520 shots since last waxed; plan 500")]
    reason: String,
    /// When the first work on it is expected; only where dates are asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    due_on: Option<DueOnBody>,
    /// What each rule says, the most urgent first.
    rules: Vec<VerdictBody>,
}

/// When work is expected, by the shots of the last weeks and the calendar. A day that lies too far
/// ahead to be told, or that there is too little to tell by, is null.
#[derive(Serialize, ToSchema)]
pub(crate) struct DueOnBody {
    /// Due by then with a chance of one in ten.
    #[schema(value_type = Option<String>, format = Date, example = "2026-01-18")]
    p10_on: Option<Date>,
    /// As likely due before it as after it.
    #[schema(value_type = Option<String>, format = Date, example = "2026-01-20")]
    p50_on: Option<Date>,
    /// Due by then with a chance of nine in ten.
    #[schema(value_type = Option<String>, format = Date, example = "2026-01-23")]
    p90_on: Option<Date>,
    #[schema(example = "recent_rate")]
    method: &'static str,
}

impl From<Band> for DueOnBody {
    fn from(band: Band) -> Self {
        let Band { p10_on, p50_on, p90_on, method } = band;
        Self { p10_on, p50_on, p90_on, method: method.as_str() }
    }
}

/// How much a part was shot, and how old it is.
#[derive(Serialize, ToSchema)]
pub(crate) struct WearBody {
    #[schema(example = 520)]
    shots: i64,
    /// Null until it is fitted for the first time.
    #[schema(example = 40)]
    days_since_first_fitted: Option<i64>,
}

/// What one rule says of a part.
#[derive(Serialize, ToSchema)]
pub(crate) struct VerdictBody {
    rule_id: Uuid,
    /// Which setting of it was in force.
    #[schema(example = 1)]
    rule_version: i32,
    /// For which parts that rule is: of several for one kind of work the narrowest speaks.
    #[schema(example = "club")]
    scope: &'static str,
    #[schema(example = "wax")]
    task: &'static str,
    #[schema(example = "due")]
    condition: &'static str,
    /// What decided: shots, days, a change, a finding, an incident or the next event.
    #[schema(example = "shots")]
    trigger: &'static str,
    #[schema(example = 520)]
    count: i64,
    #[schema(example = 500)]
    limit: i64,
    reason: String,
    /// When the work is expected; only where dates are asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    due_on: Option<DueOnBody>,
}

impl VerdictBody {
    fn of(verdict: Verdict, due_on: Option<Band>) -> Self {
        Self {
            rule_id: verdict.rule_id.0,
            rule_version: verdict.version,
            scope: verdict.scope.as_str(),
            task: verdict.task.as_str(),
            condition: verdict.condition.as_str(),
            trigger: verdict.trigger.as_str(),
            count: verdict.count,
            limit: verdict.limit,
            reason: verdict.reason,
            due_on: due_on.map(DueOnBody::from),
        }
    }
}

impl StateBody {
    /// Which part it is.
    pub(crate) const fn id(&self) -> PartId {
        PartId(self.id)
    }

    /// Whether it is a string.
    pub(crate) fn is_string(&self) -> bool {
        self.kind == PartKind::Bowstring.as_str()
    }

    /// Whether it must not be shot.
    pub(crate) fn is_stopped(&self) -> bool {
        self.condition == Condition::DoNotShoot.as_str()
    }

    /// What a part is at `now`.
    pub(crate) fn of(judged: Judged, club: &Club, now: Timestamp) -> Self {
        Self::with(judged, club, now, None)
    }

    /// The same, with the days on which work is expected.
    pub(crate) fn foreseen(judged: Judged, club: &Club, now: Timestamp, outlook: &Outlook) -> Self {
        Self::with(judged, club, now, Some(outlook))
    }

    fn with(judged: Judged, club: &Club, now: Timestamp, outlook: Option<&Outlook>) -> Self {
        let (record, assessment) = (judged.record, judged.assessment);
        let today = club.zone.date_of(now);
        Self {
            id: record.part.id.0,
            kind: record.part.kind.as_str(),
            bow_id: judged.bow.map(|bow| bow.id.0),
            wear: WearBody {
                shots: record.life_shots(),
                days_since_first_fitted: record.days_since_first_fitted(&club.zone, today),
            },
            condition: assessment.condition.as_str(),
            reason: assessment.reason,
            due_on: outlook.map(|outlook| DueOnBody::from(outlook.first)),
            rules: assessment
                .verdicts
                .into_iter()
                .enumerate()
                .map(|(i, one)| VerdictBody::of(one, outlook.and_then(|all| all.of_verdict(i))))
                .collect(),
            name: record.part.name.to_string(),
        }
    }
}

impl PartBody {
    /// A part, and what it is at `now`.
    pub(crate) fn of(judged: Judged, club: &Club, now: Timestamp) -> Self {
        Self {
            details: DetailsBody::from(&judged.record.part),
            state: StateBody::of(judged, club, now),
        }
    }
}

impl From<&Part> for DetailsBody {
    fn from(part: &Part) -> Self {
        Self {
            material: part.material.as_ref().map(ToString::to_string),
            strands: part.strands,
            made_on: part.made_on,
            starting_shots: part.start.map(|start| start.shots),
            starting_at: part.start.map(|start| start.at),
            unit_cost: part.unit_cost.map(Cost::amount),
            retirement: part.retirement.as_ref().map(|retirement| RetirementBody {
                at: retirement.at,
                end: retirement.end.as_str(),
                reason: retirement.reason.to_string(),
            }),
            created_at: part.created_at,
        }
    }
}
