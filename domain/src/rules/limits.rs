//! Which limits a rule may have: those that somebody asks for, checked against the work, the kind of
//! part and one another. Knows nothing of whose rule it is, or of how a part is judged by it.

use std::collections::BTreeSet;

use super::{
    AskedDays, AskedFinding, AskedLimits, AskedShots, RuleTask,
    common_practice::STRING_REJECT_SETTING_ABOVE_SHOTS,
};
use crate::{
    incidents::IncidentKind,
    parts::PartKind,
    upkeep::{Finding, Grade},
    words::words,
};

/// The most shots of any limit: more than any part has.
const MOST_SHOTS: i64 = 1_000_000;
/// The most days of any limit: ten years.
const MOST_DAYS: i64 = 3_650;
/// The most months of any limit: ten years.
const MOST_MONTHS: i64 = 120;
/// The most days before an event that work is announced for it.
const MOST_EVENT_NOTICE_DAYS: i64 = 90;
/// The most counts at which a settling part is checked.
const MOST_CHECKS: usize = 20;

words! {
    /// How the triggers of a rule go together.
    #[derive(Default)]
    pub enum Combine {
        /// Whichever comes first.
        #[default]
        First = "first",
        /// Only when each of them has come.
        All = "all",
    }
}

/// Limits counted in shots.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShotLimits {
    /// The work is planned for this count.
    pub plan: u32,
    /// So many shots ahead it is announced.
    pub notice: u32,
    /// So many past the plan are borne with where there is no limit for retiring.
    pub grace: u32,
    /// At this count the part is out of use.
    pub retire: Option<u32>,
}

/// Limits counted by the calendar of the club.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DayLimits {
    /// The work is planned for this many days.
    pub plan: Option<u32>,
    /// So many days ahead it is announced.
    pub notice: u32,
    /// So many past the plan are borne with.
    pub grace: u32,
    /// After so many calendar months the part is out of use.
    pub retire_months: Option<u32>,
}

/// A trigger by what was found at inspections since the work was last done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FindingTrigger {
    /// Any of these; none named means whatever the kind of part is looked over for.
    pub any_of: BTreeSet<Finding>,
    /// From this grade on, where a later inspection has not graded it lower.
    pub from: Grade,
}

/// When a rule asks for its work.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// How the triggers go together.
    pub combine: Combine,
    /// In shots.
    pub shots: Option<ShotLimits>,
    /// By the calendar.
    pub days: Option<DayLimits>,
    /// By a finding.
    pub finding: Option<FindingTrigger>,
    /// By any of these incidents of the bow that the part was under.
    pub incidents: BTreeSet<IncidentKind>,
    /// Work that will be due before the next event of the bow is over is announced so many days before
    /// it begins.
    pub event_notice_days: Option<u32>,
    /// The counts at which a settling part is checked, in rising order.
    pub checks_at: Vec<u32>,
}

/// Which of the limits is at fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is the limit of that name")]
pub enum Place {
    Task,
    Shots,
    PlanShots,
    NoticeShots,
    GraceShots,
    RetireShots,
    Days,
    PlanDays,
    NoticeDays,
    GraceDays,
    RetireMonths,
    Checks,
    Check(usize),
    Combine,
    Finding,
    FindingGrade,
    Incidents,
    EventNotice,
    Override,
}

impl Place {
    /// Where it stands in a written rule, its steps joined by `by`.
    ///
    /// # Example
    /// ```
    /// use domain::rules::Place;
    /// assert_eq!(Place::PlanShots.path("/"), "shots/plan");
    /// assert_eq!(Place::Check(2).path("."), "checks_at_shots.2");
    /// ```
    #[must_use]
    pub fn path(self, by: &str) -> String {
        let steps: &[&str] = match self {
            Self::Task => &["task"],
            Self::Shots => &["shots"],
            Self::PlanShots => &["shots", "plan"],
            Self::NoticeShots => &["shots", "notice"],
            Self::GraceShots => &["shots", "grace"],
            Self::RetireShots => &["shots", "retire"],
            Self::Days => &["days"],
            Self::PlanDays => &["days", "plan"],
            Self::NoticeDays => &["days", "notice"],
            Self::GraceDays => &["days", "grace"],
            Self::RetireMonths => &["days", "retire_months"],
            Self::Checks => &["checks_at_shots"],
            Self::Check(i) => return format!("checks_at_shots{by}{i}"),
            Self::Combine => &["combine"],
            Self::Finding => &["finding", "any_of"],
            Self::FindingGrade => &["finding", "from_grade"],
            Self::Incidents => &["incidents"],
            Self::EventNotice => &["event_notice_days"],
            Self::Override => &["override_reason"],
        };
        steps.join(by)
    }
}

/// Why limits were refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// The work is not done on such a part, or not counted for it.
    #[error("is not done on parts of this kind")]
    WrongTask,
    /// It can say nothing without it.
    #[error("is needed for this task")]
    Missing,
    /// Nothing would ever ask for the work.
    #[error("is needed, or days, a finding or incidents: nothing would ask for the work")]
    NoTrigger,
    /// Limits by the calendar without one.
    #[error("is needed, or retire_months; without both, leave days out")]
    NoDays,
    /// The work has no such limit.
    #[error("has no meaning for this task")]
    NotForTask,
    /// Outside of what any part reaches.
    #[error("must be between {least} and {most}")]
    OutOfRange {
        /// The least it may be.
        least: i64,
        /// The most it may be.
        most: i64,
    },
    /// Announced from the beginning on.
    #[error("must be below the limit it announces")]
    NoticeNotBelow,
    /// Out of use before the work is planned.
    #[error("must be above the plan")]
    RetireNotAbove,
    /// Not one after the other.
    #[error("must rise from one count to the next")]
    NotRising,
    /// More than anybody checks.
    #[error("must be at most {MOST_CHECKS} counts")]
    TooMany,
    /// The kind of part is not looked over for it.
    #[error("is not what parts of this kind are looked over for")]
    WrongFinding,
    /// The grade is none, or not a grade.
    #[error("must be a grade from 1 (light) to 3 (unsafe)")]
    Grade,
    /// Only an inspection finds anything, and that is the work itself.
    #[error(
        "can never ask for an inspection: what is found at an inspection is found by doing that work"
    )]
    NeverFires,
    /// One trigger alone cannot wait for another.
    #[error("needs at least two triggers to wait for each other")]
    NothingToCombine,
    /// So many shots on one string that somebody has to say why.
    #[error(
        "a string limit of {STRING_REJECT_SETTING_ABOVE_SHOTS} shots or more needs an \
         override_reason"
    )]
    NeedsOverride,
    /// A reason for what nobody refuses.
    #[error("is only for a string limit of {STRING_REJECT_SETTING_ABOVE_SHOTS} shots or more")]
    NothingToOverride,
}

/// A fault, and where it is.
pub type Misfit = (Place, Fault);

impl RuleTask {
    /// Whether the work is done on parts of a kind, and counted for them.
    ///
    /// # Example
    /// ```
    /// use domain::{parts::PartKind, rules::RuleTask};
    /// assert!(RuleTask::Wax.fits(PartKind::Cable));
    /// assert!(!RuleTask::Wax.fits(PartKind::Limbs));
    /// ```
    #[must_use]
    pub fn fits(self, kind: PartKind) -> bool {
        use PartKind::{Bowstring, Cable, CenterServing, EndServing};
        let done = match self {
            Self::Change | Self::Inspect => true,
            Self::Wax | Self::SettleIn => matches!(kind, Bowstring | Cable),
            Self::ReServe => matches!(kind, CenterServing | EndServing),
            Self::CheckNockingPoint | Self::CheckSettling | Self::SightIn => kind == Bowstring,
        };
        done && kind.clocks().contains(&self.clock())
    }
}

impl Limits {
    /// Takes limits for work on parts of a kind.
    ///
    /// A plan is at least 1, a notice less than what it announces, and retiring more than the plan.
    /// Settling in and sighting in are a plan in shots and nothing else; checks while it settles are
    /// counts and nothing else; any other work has a limit in shots, by the calendar, or both. A
    /// string or cable may not be planned to go on for very many shots unless somebody says why.
    ///
    /// # Errors
    /// Everything that is wrong with them.
    ///
    /// # Example
    /// ```
    /// use domain::{parts::PartKind, rules::*};
    /// let asked = |notice| AskedLimits {
    ///     shots: Some(AskedShots { plan: 600, notice, ..AskedShots::default() }),
    ///     ..AskedLimits::default()
    /// };
    /// let limits = |notice| Limits::new(PartKind::Bowstring, RuleTask::Wax, &asked(notice));
    /// assert!(limits(599).is_ok());
    /// assert_eq!(limits(600), Err(vec![(Place::NoticeShots, Fault::NoticeNotBelow)]));
    /// ```
    pub fn new(kind: PartKind, task: RuleTask, asked: &AskedLimits) -> Result<Self, Vec<Misfit>> {
        let mut misfits = Misfits(Vec::new());
        if !task.fits(kind) {
            misfits.note(Place::Task, Fault::WrongTask);
        }
        match task {
            RuleTask::CheckSettling => only_checks(asked, &mut misfits),
            RuleTask::SettleIn | RuleTask::SightIn => only_plan(asked, &mut misfits),
            _ => any_trigger(task, asked, &mut misfits),
        }
        let limits = Self {
            combine: asked.combine,
            shots: asked.shots.map(|shots| shot_limits(shots, &mut misfits)),
            days: asked.days.map(|days| day_limits(days, &mut misfits)),
            finding: asked.finding.as_ref().and_then(|one| finding(kind, one, &mut misfits)),
            incidents: asked.incidents.clone(),
            event_notice_days: asked
                .event_notice_days
                .map(|days| misfits.within(Place::EventNotice, days, 1, MOST_EVENT_NOTICE_DAYS)),
            checks_at: checks(&asked.checks_at, &mut misfits),
        };
        let strands = matches!(kind, PartKind::Bowstring | PartKind::Cable);
        let is_change = strands && task == RuleTask::Change;
        let very_many = is_change && limits.shots.is_some_and(is_very_many);
        match (very_many, asked.overridden) {
            (true, false) => {
                let retires = limits.shots.is_some_and(|shots| shots.retire.is_some());
                let place = if retires { Place::RetireShots } else { Place::PlanShots };
                misfits.note(place, Fault::NeedsOverride);
            }
            (false, true) => misfits.note(Place::Override, Fault::NothingToOverride),
            _ => {}
        }
        if misfits.0.is_empty() { Ok(limits) } else { Err(misfits.0) }
    }
}

fn is_very_many(limits: ShotLimits) -> bool {
    limits.retire.unwrap_or(limits.plan) >= STRING_REJECT_SETTING_ABOVE_SHOTS
}

struct Misfits(Vec<Misfit>);

impl Misfits {
    fn note(&mut self, place: Place, fault: Fault) {
        self.0.push((place, fault));
    }

    fn note_if(&mut self, wrong: bool, place: Place, fault: Fault) {
        if wrong {
            self.note(place, fault);
        }
    }

    /// The number, if it lies within its bounds; else the nearest that does, and a note.
    fn within(&mut self, place: Place, number: i64, least: i64, most: i64) -> u32 {
        self.note_if(!(least..=most).contains(&number), place, Fault::OutOfRange { least, most });
        u32::try_from(number.clamp(least, most)).unwrap_or(u32::MAX)
    }
}

fn only_checks(asked: &AskedLimits, misfits: &mut Misfits) {
    no_others(asked, misfits);
    misfits.note_if(asked.shots.is_some(), Place::Shots, Fault::NotForTask);
    misfits.note_if(asked.days.is_some(), Place::Days, Fault::NotForTask);
    misfits.note_if(asked.checks_at.is_empty(), Place::Checks, Fault::Missing);
}

fn only_plan(asked: &AskedLimits, misfits: &mut Misfits) {
    no_others(asked, misfits);
    misfits.note_if(asked.days.is_some(), Place::Days, Fault::NotForTask);
    misfits.note_if(!asked.checks_at.is_empty(), Place::Checks, Fault::NotForTask);
    match asked.shots {
        None => misfits.note(Place::Shots, Fault::Missing),
        Some(shots) => {
            misfits.note_if(shots.notice != 0, Place::NoticeShots, Fault::NotForTask);
            misfits.note_if(shots.grace != 0, Place::GraceShots, Fault::NotForTask);
            misfits.note_if(shots.retire.is_some(), Place::RetireShots, Fault::NotForTask);
        }
    }
}

fn any_trigger(task: RuleTask, asked: &AskedLimits, misfits: &mut Misfits) {
    misfits.note_if(!asked.checks_at.is_empty(), Place::Checks, Fault::NotForTask);
    let triggers = [
        asked.shots.is_some(),
        asked.days.is_some(),
        asked.finding.is_some(),
        !asked.incidents.is_empty(),
    ];
    let triggers = triggers.into_iter().filter(|there| *there).count();
    misfits.note_if(triggers == 0, Place::Shots, Fault::NoTrigger);
    let alone = asked.combine == Combine::All && triggers == 1;
    misfits.note_if(alone, Place::Combine, Fault::NothingToCombine);
    if let Some(AskedDays { plan: None, retire_months: None, .. }) = asked.days {
        misfits.note(Place::PlanDays, Fault::NoDays);
    }
    let in_vain = asked.finding.is_some() && task == RuleTask::Inspect;
    misfits.note_if(in_vain, Place::Finding, Fault::NeverFires);
}

/// Refuses what only work that is done again and again can be asked for by.
fn no_others(asked: &AskedLimits, misfits: &mut Misfits) {
    misfits.note_if(asked.combine == Combine::All, Place::Combine, Fault::NotForTask);
    misfits.note_if(asked.finding.is_some(), Place::Finding, Fault::NotForTask);
    misfits.note_if(!asked.incidents.is_empty(), Place::Incidents, Fault::NotForTask);
    misfits.note_if(asked.event_notice_days.is_some(), Place::EventNotice, Fault::NotForTask);
}

/// A trigger by findings that parts of the kind are looked over for.
fn finding(kind: PartKind, asked: &AskedFinding, misfits: &mut Misfits) -> Option<FindingTrigger> {
    let strange = asked.any_of.iter().any(|finding| !kind.looked_over_for().contains(finding));
    misfits.note_if(strange, Place::Finding, Fault::WrongFinding);
    match Grade::new(asked.from_grade) {
        Some(from) if from > Grade::None => {
            Some(FindingTrigger { any_of: asked.any_of.clone(), from })
        }
        _ => {
            misfits.note(Place::FindingGrade, Fault::Grade);
            None
        }
    }
}

fn shot_limits(asked: AskedShots, misfits: &mut Misfits) -> ShotLimits {
    let limits = ShotLimits {
        plan: misfits.within(Place::PlanShots, asked.plan, 1, MOST_SHOTS),
        notice: misfits.within(Place::NoticeShots, asked.notice, 0, MOST_SHOTS),
        grace: misfits.within(Place::GraceShots, asked.grace, 0, MOST_SHOTS),
        retire: asked.retire.map(|at| misfits.within(Place::RetireShots, at, 1, MOST_SHOTS)),
    };
    misfits.note_if(limits.notice >= limits.plan, Place::NoticeShots, Fault::NoticeNotBelow);
    let early = limits.retire.is_some_and(|at| at <= limits.plan);
    misfits.note_if(early, Place::RetireShots, Fault::RetireNotAbove);
    limits
}

fn day_limits(asked: AskedDays, misfits: &mut Misfits) -> DayLimits {
    let limits = DayLimits {
        plan: asked.plan.map(|days| misfits.within(Place::PlanDays, days, 1, MOST_DAYS)),
        notice: misfits.within(Place::NoticeDays, asked.notice, 0, MOST_DAYS),
        grace: misfits.within(Place::GraceDays, asked.grace, 0, MOST_DAYS),
        retire_months: asked
            .retire_months
            .map(|months| misfits.within(Place::RetireMonths, months, 1, MOST_MONTHS)),
    };
    let announced = limits.plan.or(limits.retire_months.map(fewest_days));
    let from_the_start = announced.is_some_and(|days| limits.notice >= days);
    misfits.note_if(from_the_start, Place::NoticeDays, Fault::NoticeNotBelow);
    let early = limits
        .plan
        .zip(limits.retire_months)
        .is_some_and(|(plan, months)| plan >= fewest_days(months));
    misfits.note_if(early, Place::RetireMonths, Fault::RetireNotAbove);
    limits
}

/// No run of so many months has fewer days than this.
const fn fewest_days(months: u32) -> u32 {
    (months * 365 / 12).saturating_sub(2)
}

fn checks(asked: &[i64], misfits: &mut Misfits) -> Vec<u32> {
    misfits.note_if(asked.len() > MOST_CHECKS, Place::Checks, Fault::TooMany);
    let mut taken: Vec<u32> = Vec::new();
    for (i, &count) in asked.iter().take(MOST_CHECKS).enumerate() {
        let count = misfits.within(Place::Check(i), count, 0, MOST_SHOTS);
        let rises = taken.last().is_none_or(|&before| before < count);
        misfits.note_if(!rises, Place::Check(i), Fault::NotRising);
        taken.push(count);
    }
    taken
}

#[cfg(test)]
mod tests;
