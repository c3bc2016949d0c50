//! How an entry of a timeline is written.

use domain::{
    fittings::{Fitting, Host},
    incidents::Incident,
    timeline::{Entry, What},
    upkeep::Upkeep,
};
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use crate::openapi::one_of;

/// Something that happened.
#[derive(Serialize, ToSchema)]
pub(crate) struct EntryBody {
    /// Of a day's shots, when the last of its logs was; of what is known by its day alone, when that began.
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// The club's date.
    #[schema(value_type = String, format = Date, example = "2026-01-24")]
    on: Date,
    #[schema(schema_with = kinds)]
    kind: &'static str,
    /// All of it in words.
    #[schema(example = "72 shots in 2 logs with Blue recurve; 1,272 in all by the end of the day")]
    text: String,
    #[serde(flatten)]
    more: MoreBody,
}

/// What else there is to an entry, as far as its kind has it.
#[derive(Default, Serialize, ToSchema)]
pub(crate) struct MoreBody {
    /// The bow that it was shot with, fitted to or taken off, or that it happened to.
    #[serde(skip_serializing_if = "Option::is_none")]
    bow_id: Option<Uuid>,
    /// The other part: the host of a part, or what was fitted to a bow.
    #[serde(skip_serializing_if = "Option::is_none")]
    part_id: Option<Uuid>,
    /// The shots of the day.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 72)]
    shots: Option<i64>,
    /// The number of its logs.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 2)]
    logs: Option<u32>,
    /// All shots by the end of the day.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 1272)]
    shots_by_then: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    upkeep_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "inspected")]
    task: Option<&'static str>,
    /// What an inspection looked for, and how bad it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    findings: Option<Vec<FoundThenBody>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    incident_id: Option<Uuid>,
    #[serde(skip_serializing_if = "Option::is_none")]
    clearance_id: Option<Uuid>,
    /// What forbade shooting, or was lifted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(["dry_fire"]))]
    causes: Option<Vec<&'static str>>,
    /// How the part's life ended.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "worn")]
    end: Option<&'static str>,
}

/// Something that was looked for at an inspection.
#[derive(Serialize, ToSchema)]
pub(crate) struct FoundThenBody {
    #[schema(example = "fuzzy_strands")]
    finding: &'static str,
    /// 0 none, 1 light, 2 marked, 3 unsafe.
    #[schema(example = 1, minimum = 0, maximum = 3)]
    grade: i32,
}

fn kinds() -> RefOr<Schema> {
    one_of(What::KINDS)
}

/// Whose timeline an entry stands in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Of {
    Part,
    Bow,
}

impl EntryBody {
    pub(super) fn of(entry: &Entry, of: Of, text: String) -> Self {
        let more = MoreBody::of(&entry.what, of);
        Self { at: entry.at, on: entry.on, kind: entry.what.kind(), text, more }
    }
}

impl MoreBody {
    fn of(what: &What, of: Of) -> Self {
        let none = Self::default();
        match what {
            What::Made => none,
            What::BroughtIn { shots } => Self { shots: Some((*shots).into()), ..none },
            What::Fitted(stay) | What::TakenOff(stay) => Self::of_stay(stay, of),
            What::Shots(day) => Self {
                bow_id: Some(day.bow.0),
                shots: Some(day.shots),
                logs: Some(day.logs),
                shots_by_then: Some(day.by_then),
                ..none
            },
            What::Happened(incident) => Self::of_incident(incident),
            What::Worked(work) => Self::of_work(work),
            What::Cleared(clearance) => Self {
                bow_id: Some(clearance.bow_id.0),
                clearance_id: Some(clearance.id.0),
                ..none
            },
            What::Stopped(stop) => Self { causes: Some(vec![stop.cause.as_str()]), ..none },
            What::Lifted(stops) => {
                let causes = stops.iter().map(|stop| stop.cause.as_str()).collect();
                Self { causes: Some(causes), ..none }
            }
            What::Retired(retirement) => Self { end: Some(retirement.end.as_str()), ..none },
        }
    }

    fn of_stay(stay: &Fitting, of: Of) -> Self {
        let (bow_id, part_id) = match (stay.host, of) {
            (Host::Bow(bow), Of::Part) => (Some(bow.0), None),
            (Host::Part(host), Of::Part) => (None, Some(host.0)),
            (Host::Bow(bow), Of::Bow) => (Some(bow.0), Some(stay.part_id.0)),
            (Host::Part(_), Of::Bow) => (None, Some(stay.part_id.0)),
        };
        Self { bow_id, part_id, ..Self::default() }
    }

    fn of_incident(incident: &Incident) -> Self {
        let (bow_id, incident_id) = (Some(incident.bow_id.0), Some(incident.id.0));
        Self { bow_id, incident_id, ..Self::default() }
    }

    fn of_work(work: &Upkeep) -> Self {
        let found = work.findings.iter().map(|(finding, grade)| FoundThenBody {
            finding: finding.as_str(),
            grade: grade.number(),
        });
        let findings: Vec<FoundThenBody> = found.collect();
        Self {
            upkeep_id: Some(work.id.0),
            task: Some(work.task.as_str()),
            findings: Some(findings).filter(|findings| !findings.is_empty()),
            ..Self::default()
        }
    }
}
