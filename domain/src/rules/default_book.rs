//! The rule book that a club starts with. All of it is common practice, no source, and all of it
//! is the club's to change; the bow and string maker's instructions come first.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::{
    Combine, DayLimits, Limits, Provenance, Rule, RuleTask, Scope, ShotLimits,
    common_practice::{
        SERVING_INSPECT_SHOTS, SETTLE_IN_SHOTS, SIGHT_IN_SHOTS, STRING_PLAN_SHOTS,
        STRING_RETIRE_SHOTS, WAX_CHECK_DAYS,
    },
};
use crate::{ids::RuleId, parts::PartKind};

/// What stands as the source of each default.
pub const COMMON_PRACTICE: &str = "common practice, no source";
/// What stands as the source of a rule that somebody set without naming one.
pub const SET_BY_THE_CLUB: &str = "set by the club";

/// One line of the book: on what, which work, at how many shots, after how many days, and at which
/// counts while it settles.
type Line = (PartKind, RuleTask, Option<ShotLimits>, Option<DayLimits>, &'static [u32]);

const fn shots(plan: u32, notice: u32, grace: u32) -> ShotLimits {
    ShotLimits { plan, notice, grace, retire: None }
}

const fn days(plan: u32, notice: u32, grace: u32) -> DayLimits {
    DayLimits { plan: Some(plan), notice, grace, retire_months: None }
}

/// A string goes by its shots or after three years, whichever comes first.
const STRING_SHOTS: ShotLimits = ShotLimits {
    plan: STRING_PLAN_SHOTS,
    notice: 1_500,
    grace: 3_000,
    retire: Some(STRING_RETIRE_SHOTS),
};
const STRING_AGE: DayLimits =
    DayLimits { plan: None, notice: 60, grace: 0, retire_months: Some(36) };

/// The counts at which a settling string is measured.
const SETTLING_CHECKS: &[u32] = &[0, 50, 100, SETTLE_IN_SHOTS];

/// The grace is a fifth of the plan: enough for a week away, too little to forget.
const BOOK: [Line; 8] = [
    (
        PartKind::Bowstring,
        RuleTask::Wax,
        Some(shots(500, 100, 100)),
        Some(days(WAX_CHECK_DAYS, 3, 3)),
        &[],
    ),
    (
        PartKind::CenterServing,
        RuleTask::Inspect,
        Some(shots(SERVING_INSPECT_SHOTS, 150, 200)),
        Some(days(30, 0, 6)),
        &[],
    ),
    (PartKind::CenterServing, RuleTask::ReServe, Some(shots(3_000, 300, 600)), None, &[]),
    (
        PartKind::Bowstring,
        RuleTask::CheckNockingPoint,
        Some(shots(1_000, 150, 200)),
        Some(days(30, 0, 6)),
        &[],
    ),
    (PartKind::Bowstring, RuleTask::Change, Some(STRING_SHOTS), Some(STRING_AGE), &[]),
    (PartKind::Bowstring, RuleTask::SettleIn, Some(shots(SETTLE_IN_SHOTS, 0, 0)), None, &[]),
    (PartKind::Bowstring, RuleTask::CheckSettling, None, None, SETTLING_CHECKS),
    (PartKind::Bowstring, RuleTask::SightIn, Some(shots(SIGHT_IN_SHOTS, 0, 0)), None, &[]),
];

/// The rules a new club starts with, one id each from `next_id`.
#[must_use]
pub fn default_book(set_at: Timestamp, mut next_id: impl FnMut() -> RuleId) -> Vec<Rule> {
    let provenance = Provenance { set_at, set_by: None, source: COMMON_PRACTICE.to_owned() };
    BOOK.iter()
        .map(|&(part_kind, task, shots, days, checks_at)| Rule {
            id: next_id(),
            part_kind,
            task,
            scope: Scope::Club,
            limits: Limits {
                combine: Combine::First,
                shots,
                days,
                finding: None,
                incidents: BTreeSet::new(),
                event_notice_days: None,
                checks_at: checks_at.to_vec(),
            },
            effective_on: None,
            version: 1,
            provenance: provenance.clone(),
        })
        .collect()
}
