//! How a rule is written.

use domain::rules::{DayLimits, Rule, ShotLimits};
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// A rule of the club's book. Whichever of its limits is reached first counts.
#[derive(Serialize, ToSchema)]
pub(crate) struct RuleBody {
    id: Uuid,
    #[schema(example = "string")]
    part_kind: &'static str,
    #[schema(example = "wax")]
    task: &'static str,
    /// Limits in shots; null means none.
    shots: Option<ShotLimitsBody>,
    /// Limits by the calendar; null means none.
    days: Option<DayLimitsBody>,
    /// The shots of a new part at which it is checked while it settles.
    #[schema(example = json!([]))]
    checks_at_shots: Vec<u32>,
    /// On what ground it stands.
    #[schema(example = "common practice, no source")]
    source: String,
    #[schema(value_type = String, format = DateTime)]
    set_at: Timestamp,
    /// Who set it; null means that it came with the club.
    set_by_member_id: Option<Uuid>,
}

/// Limits in shots.
#[derive(Serialize, ToSchema)]
pub(crate) struct ShotLimitsBody {
    /// The work is planned for this count.
    #[schema(example = 500)]
    plan: u32,
    /// So many shots ahead it is announced.
    #[schema(example = 100)]
    notice: u32,
    /// So many past the plan are borne with where there is no limit for retiring.
    #[schema(example = 100)]
    grace: u32,
    /// At this count the part is out of use.
    retire: Option<u32>,
}

/// Limits by the calendar.
#[derive(Serialize, ToSchema)]
pub(crate) struct DayLimitsBody {
    /// The work is planned for this many days.
    #[schema(example = 14)]
    plan: Option<u32>,
    /// So many days ahead it is announced.
    #[schema(example = 3)]
    notice: u32,
    /// So many past the plan are borne with where there is no limit for retiring.
    #[schema(example = 3)]
    grace: u32,
    /// After so many calendar months the part is out of use.
    retire_months: Option<u32>,
}

impl From<ShotLimits> for ShotLimitsBody {
    fn from(limits: ShotLimits) -> Self {
        let ShotLimits { plan, notice, grace, retire } = limits;
        Self { plan, notice, grace, retire }
    }
}

impl From<DayLimits> for DayLimitsBody {
    fn from(limits: DayLimits) -> Self {
        let DayLimits { plan, notice, grace, retire_months } = limits;
        Self { plan, notice, grace, retire_months }
    }
}

impl From<Rule> for RuleBody {
    fn from(rule: Rule) -> Self {
        Self {
            id: rule.id.0,
            part_kind: rule.part_kind.as_str(),
            task: rule.task.as_str(),
            shots: rule.shots.map(ShotLimitsBody::from),
            days: rule.days.map(DayLimitsBody::from),
            checks_at_shots: rule.checks_at,
            source: rule.provenance.source,
            set_at: rule.provenance.set_at,
            set_by_member_id: rule.provenance.set_by.map(|member| member.0),
        }
    }
}
