//! The limits of a rule as somebody asks for them. Nothing is known of them yet: any whole number may
//! stand anywhere.

use super::{DayLimits, ShotLimits};

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

/// All limits of a rule as they were asked for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AskedLimits {
    /// In shots.
    pub shots: Option<AskedShots>,
    /// By the calendar.
    pub days: Option<AskedDays>,
    /// The counts at which a settling part is checked.
    pub checks_at: Vec<i64>,
    /// Whether somebody gives a reason for a limit that is refused without one.
    pub overridden: bool,
}
