//! How a rule is written.

use domain::rules::{DayLimits, FindingTrigger, Rule, ShotLimits};
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::scope::ScopeBody;

/// A rule of the club's book. Whichever of its limits is reached first counts.
#[derive(Serialize, ToSchema)]
pub(crate) struct RuleBody {
    id: Uuid,
    #[schema(example = "string")]
    part_kind: &'static str,
    #[schema(example = "wax")]
    task: &'static str,
    scope: ScopeBody,
    /// `first`: whichever trigger comes first. `all`: only when all of them have come.
    #[schema(example = "first")]
    combine: &'static str,
    /// Limits in shots; null means none.
    shots: Option<ShotLimitsBody>,
    /// Limits by the calendar; null means none.
    days: Option<DayLimitsBody>,
    /// By what was found at inspections; null means that it does not matter.
    finding: Option<FindingTriggerBody>,
    /// By any of these incidents.
    #[schema(example = json!([]))]
    incidents: Vec<&'static str>,
    /// So many days before an event work is announced that will be due before it is over.
    event_notice_days: Option<u32>,
    /// The shots of a new part at which it is checked while it settles.
    #[schema(example = json!([]))]
    checks_at_shots: Vec<u32>,
    /// In force from this day on; null means since it was set.
    #[schema(value_type = Option<String>, format = Date)]
    effective_on: Option<Date>,
    /// How often it was set.
    #[schema(example = 1)]
    version: i32,
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

/// A trigger by what was found.
#[derive(Serialize, ToSchema)]
pub(crate) struct FindingTriggerBody {
    /// Any of these; empty means whatever parts of the kind are looked over for.
    #[schema(example = json!(["flat_serving"]))]
    any_of: Vec<&'static str>,
    #[schema(example = 2, minimum = 1, maximum = 3)]
    from_grade: i32,
}

impl From<FindingTrigger> for FindingTriggerBody {
    fn from(trigger: FindingTrigger) -> Self {
        let any_of = trigger.any_of.iter().map(|finding| finding.as_str()).collect();
        Self { any_of, from_grade: trigger.from.number() }
    }
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
        let limits = rule.limits;
        Self {
            id: rule.id.0,
            part_kind: rule.part_kind.as_str(),
            task: rule.task.as_str(),
            scope: ScopeBody::from(&rule.scope),
            combine: limits.combine.as_str(),
            shots: limits.shots.map(ShotLimitsBody::from),
            days: limits.days.map(DayLimitsBody::from),
            finding: limits.finding.map(FindingTriggerBody::from),
            incidents: limits.incidents.iter().map(|kind| kind.as_str()).collect(),
            event_notice_days: limits.event_notice_days,
            checks_at_shots: limits.checks_at,
            effective_on: rule.effective_on,
            version: rule.version,
            source: rule.provenance.source,
            set_at: rule.provenance.set_at,
            set_by_member_id: rule.provenance.set_by.map(|member| member.0),
        }
    }
}
