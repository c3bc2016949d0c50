//! The limits of a rule as somebody asks for them. Nothing is known of them yet: any whole number may
//! stand anywhere.

use std::collections::BTreeSet;

use super::{Combine, DayLimits, FindingTrigger, Limits, ShotLimits};
use crate::{incidents::IncidentKind, upkeep::Finding};

/// Limits in shots as they were asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct AskedShots {
    /// See [`ShotLimits::plan`].
    pub plan: i64,
    /// See [`ShotLimits::notice`].
    pub notice: i64,
    /// See [`ShotLimits::grace`].
    pub grace: i64,
    /// See [`ShotLimits::retire`].
    pub retire: Option<i64>,
}

/// Limits by the calendar as they were asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct AskedDays {
    /// See [`DayLimits::plan`].
    pub plan: Option<i64>,
    /// See [`DayLimits::notice`].
    pub notice: i64,
    /// See [`DayLimits::grace`].
    pub grace: i64,
    /// See [`DayLimits::retire_months`].
    pub retire_months: Option<i64>,
}

impl From<ShotLimits> for AskedShots {
    fn from(limits: ShotLimits) -> Self {
        Self {
            plan: limits.plan.into(),
            notice: limits.notice.into(),
            grace: limits.grace.into(),
            retire: limits.retire.map(i64::from),
        }
    }
}

impl From<DayLimits> for AskedDays {
    fn from(limits: DayLimits) -> Self {
        Self {
            plan: limits.plan.map(i64::from),
            notice: limits.notice.into(),
            grace: limits.grace.into(),
            retire_months: limits.retire_months.map(i64::from),
        }
    }
}

/// A trigger by findings as it was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AskedFinding {
    /// See [`FindingTrigger::any_of`].
    pub any_of: BTreeSet<Finding>,
    /// See [`FindingTrigger::from`].
    pub from_grade: i64,
}

impl From<&FindingTrigger> for AskedFinding {
    fn from(trigger: &FindingTrigger) -> Self {
        Self { any_of: trigger.any_of.clone(), from_grade: trigger.from.number().into() }
    }
}

/// All limits of a rule as they were asked for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AskedLimits {
    /// How the triggers go together.
    pub combine: Combine,
    /// In shots.
    pub shots: Option<AskedShots>,
    /// By the calendar.
    pub days: Option<AskedDays>,
    /// By a finding.
    pub finding: Option<AskedFinding>,
    /// By any of these incidents.
    pub incidents: BTreeSet<IncidentKind>,
    /// See [`Limits::event_notice_days`].
    pub event_notice_days: Option<i64>,
    /// The counts at which a settling part is checked.
    pub checks_at: Vec<i64>,
    /// Whether somebody gives a reason for a limit that is refused without one.
    pub overridden: bool,
}

impl From<&Limits> for AskedLimits {
    fn from(limits: &Limits) -> Self {
        Self {
            combine: limits.combine,
            shots: limits.shots.map(AskedShots::from),
            days: limits.days.map(AskedDays::from),
            finding: limits.finding.as_ref().map(AskedFinding::from),
            incidents: limits.incidents.clone(),
            event_notice_days: limits.event_notice_days.map(i64::from),
            checks_at: limits.checks_at.iter().copied().map(i64::from).collect(),
            overridden: false,
        }
    }
}
