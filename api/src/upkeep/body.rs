//! How work on a part is written.

use domain::upkeep::Upkeep;
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// Work that is on record.
#[derive(Serialize, ToSchema)]
pub(crate) struct WorkBody {
    id: Uuid,
    part_id: Uuid,
    #[schema(example = "inspected")]
    task: &'static str,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// What was found, where it was an inspection.
    findings: Vec<FoundBody>,
    /// What was measured: the brace height, or the nocking point above square.
    #[schema(example = 222.5)]
    measured_mm: Option<f64>,
    /// It was an inspection by a coach or owner who gave a reason: what forbade shooting is lifted.
    #[schema(example = true)]
    clears: bool,
    note: String,
    entered_by_member_id: Uuid,
    #[schema(value_type = String, format = DateTime)]
    received_at: Timestamp,
}

/// Something that was looked for.
#[derive(Serialize, ToSchema)]
pub(crate) struct FoundBody {
    #[schema(example = "fuzzy_strands")]
    finding: &'static str,
    /// 0 none, 1 light, 2 marked, 3 unsafe.
    #[schema(example = 1, minimum = 0, maximum = 3)]
    grade: i32,
}

impl From<Upkeep> for WorkBody {
    fn from(work: Upkeep) -> Self {
        let found = work
            .findings
            .iter()
            .map(|(finding, grade)| FoundBody { finding: finding.as_str(), grade: grade.number() });
        Self {
            id: work.id.0,
            part_id: work.part_id.0,
            task: work.task.as_str(),
            at: work.at,
            findings: found.collect(),
            measured_mm: work.measured_mm,
            clears: work.clears,
            note: work.note.as_str().to_owned(),
            entered_by_member_id: work.entered_by.0,
            received_at: work.received_at,
        }
    }
}
