//! What a bow needs before an event: the last day for a change of string or serving, and the work that
//! is due by then. Knows one event and one bow; nothing of bench slots, of other events, or of who is
//! told.

use std::collections::BTreeSet;

use jiff::{ToSpan, civil::Date};

use super::event_window::{EventWindowError, event_window};
use crate::{
    events::Event,
    forecast::{Pace, band, days_in_weeks},
    ids::PartId,
    parts::PartKind,
    rules::{Condition, Left, RuleTask},
    text::Name,
};

/// What is said of a change that would not settle in time.
pub const LEAVE_IT: &str = "leave it unless unsafe; take a spare that is shot in";

/// What one rule says of one part under the bow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartVerdict {
    /// Which part.
    pub part: PartId,
    /// What it is.
    pub kind: PartKind,
    /// What its people call it.
    pub name: Name,
    /// Which work the rule asks for.
    pub task: RuleTask,
    /// What it makes of the part.
    pub condition: Condition,
    /// What is left until the work is to be done.
    pub left: Left,
    /// Why, in words and numbers.
    pub reason: String,
}

/// How much a bow is shot, and how much it has to be shot after a change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shooting<'a> {
    /// The recent rate, if there is one.
    pub pace: Option<&'a Pace>,
    /// Shots until a new string or serving is trusted.
    pub settle_in_shots: u32,
    /// Shots to sight in after that.
    pub sight_in_shots: u32,
}

/// What a bow needs before an event.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Needs {
    /// The last day on which a string or serving may be changed; none if it is over, or if there is no
    /// rate to tell it by.
    pub last_change_on: Option<Date>,
    /// That day is over.
    pub too_late_to_change: bool,
    /// What is to be done, the earliest first; of one day, the most urgent first.
    pub works: Vec<Need>,
}

/// One piece of work before an event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Need {
    /// On which part.
    pub part: PartId,
    /// What it is.
    pub kind: PartKind,
    /// What its people call it.
    pub name: Name,
    /// Which work.
    pub task: RuleTask,
    /// What the part is now.
    pub condition: Condition,
    /// By which day, that one included; over if it is too late.
    pub by: Date,
    /// It is a change that would not settle in time: see [`LEAVE_IT`].
    pub too_late: bool,
    /// Why, in words and numbers.
    pub why: String,
}

/// Reckons what a bow needs before an event that is still to come.
///
/// A major or regular event wants strings and servings left alone while they settle and are sighted in;
/// a minor one does not. Work is needed if a rule asks for it now or soon, or if it will be due before
/// the event is over. A part that is settling now is named too, if it will not have settled by then.
///
/// # Formula
///
/// With `n = settle_in + sight_in` shots and `m` shots a week, `weeks = n / m` (see
/// [`event_window`]) and the last day for a change is `starts_on - max(⌈7 weeks⌉, 1)` days, and then
/// the nearest day before it that is not blocked. For a minor event `n = 0`. The days of the journey
/// are taken to be shot on like any other: only changes are blocked on them.
///
/// Work with `R` shots left is needed when the p50 date of `R - arrows_expected` shots, or its calendar
/// limit, lies on or before `ends_on`: [`band`] at the recent rate, the event's arrows besides.
///
/// Re-serving and changing is to be done by the last day for a change, any other work by the day before
/// the event (today, if that is over or the work is due already). If the last day for a change is over, the work is flagged as too
/// late: [`LEAVE_IT`]. Without a rate it is today, or the first day after it that is not blocked. A
/// part that must not be shot is never left as it is: that work is for today.
///
/// # Domain
///
/// Any event; one that is over or called off needs nothing. `m` above 0, or no rate.
///
/// # Errors
///
/// None: what cannot be told is a missing day, and `too_late_to_change` says if it is over.
///
/// # Example
///
/// ```
/// # use std::collections::BTreeSet;
/// use domain::{events::*, forecast::Pace, ids::*, parts::PartKind, planning::before_event::*};
/// use domain::{rules::{Condition, Left, RuleTask}, text::Name};
/// use jiff::{Timestamp, civil::date};
/// # use uuid::Uuid;
/// let event = Event {
///     id: EventId(Uuid::nil()), name: Name::parse("Invented Cup")?,
///     dates: EventDates::new(date(2027, 6, 12), date(2027, 6, 13)).unwrap(),
///     priority: Priority::Major, arrows_expected: 144,
///     blocked_days: BTreeSet::from([date(2027, 6, 6)]),
///     version: 1, cancelled_at: None,
///     created_by: MemberId(Uuid::nil()), created_at: Timestamp::UNIX_EPOCH,
///     changed_at: Timestamp::UNIX_EPOCH,
/// };
/// let serving = PartVerdict {
///     part: PartId(Uuid::nil()), kind: PartKind::CenterServing, name: Name::parse("black")?,
///     task: RuleTask::ReServe, condition: Condition::Sound,
///     left: Left { shots: Some(500), ..Left::default() }, reason: "2,500 shots in all".to_owned(),
/// };
/// let pace = Pace { weeks: 12, mean_shots_per_week: 360.0, variance_per_week: 0.0 };
/// let shooting = Shooting { pace: Some(&pace), settle_in_shots: 200, sight_in_shots: 72 };
/// let found = before_event(&event, &[serving], shooting, date(2027, 6, 1));
/// // 272 / 360 weeks are 5.29 days, so six; 6 June is blocked, so it is 5 June.
/// assert_eq!(found.last_change_on, Some(date(2027, 6, 5)));
/// // (500 - 144) / 360 weeks are 6.92 days: 8 June, before the event is over.
/// assert_eq!((found.works[0].task, found.works[0].by), (RuleTask::ReServe, date(2027, 6, 5)));
/// # Ok::<(), domain::text::TextError>(())
/// ```
///
/// # References
///
/// That a string is left alone before an event, and for how long, is common practice, no source.
#[must_use]
pub fn before_event(
    event: &Event,
    verdicts: &[PartVerdict],
    shooting: Shooting<'_>,
    today: Date,
) -> Needs {
    if !event.is_ahead(today) {
        return Needs::default();
    }
    let change = LastChange::before(event, shooting, today);
    let bow = Bow { event, shooting, change, today };
    let mut works: Vec<Need> = verdicts.iter().filter_map(|verdict| bow.need(verdict)).collect();
    works.sort_by(|a, b| key(a).cmp(&key(b)));
    let last_change_on = match change {
        LastChange::On(day) => Some(day),
        LastChange::Over(_) | LastChange::Unknown(_) => None,
    };
    Needs { last_change_on, too_late_to_change: matches!(change, LastChange::Over(_)), works }
}

/// What works are sorted by.
fn key(need: &Need) -> (Date, Condition, RuleTask, &Name, PartId) {
    (need.by, need.condition, need.task, &need.name, need.part)
}

/// The last day for a change of string or serving.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum LastChange {
    /// Still to come, or today.
    On(Date),
    /// Over.
    Over(Date),
    /// There is no rate to tell it by; this is the first day on which a change can be made.
    Unknown(Date),
}

impl LastChange {
    fn before(event: &Event, shooting: Shooting<'_>, today: Date) -> Self {
        let eve = day_before(event);
        let lead_days = if event.priority.wants_settled_bows() {
            let mean = shooting.pace.map_or(0.0, |pace| pace.mean_shots_per_week);
            match event_window(shooting.settle_in_shots, shooting.sight_in_shots, mean, 1.0) {
                Ok(window) => days_in_weeks(window.min_lead_weeks),
                Err(EventWindowError::ShotsPerWeek { .. }) => {
                    return Self::without_rate(event, today);
                }
                Err(_far_too_long) => None,
            }
        } else {
            Some(0)
        };
        // A lead of more than five years is one that nobody has.
        let Some(days) = lead_days else { return Self::Over(eve) };
        let day = event.dates.starts_on().saturating_sub(days.max(1).days());
        let day = unblocked_before(&event.blocked_days, day);
        if day >= today { Self::On(day) } else { Self::Over(day) }
    }

    /// As soon as can be: nobody knows how long it takes to settle.
    fn without_rate(event: &Event, today: Date) -> Self {
        let eve = day_before(event);
        let mut day = today;
        while day <= eve && event.blocked_days.contains(&day) {
            day = day.saturating_add(1.day());
        }
        if day <= eve { Self::Unknown(day) } else { Self::Over(eve) }
    }
}

fn day_before(event: &Event) -> Date {
    event.dates.starts_on().saturating_sub(1.day())
}

/// The day itself, or the nearest one before it on which something may be changed.
fn unblocked_before(blocked: &BTreeSet<Date>, mut day: Date) -> Date {
    while blocked.contains(&day) {
        day = day.saturating_sub(1.day());
    }
    day
}

/// A bow on its way to an event.
struct Bow<'a> {
    event: &'a Event,
    shooting: Shooting<'a>,
    change: LastChange,
    today: Date,
}

impl Bow<'_> {
    fn need(&self, verdict: &PartVerdict) -> Option<Need> {
        let why = match verdict.task {
            RuleTask::SightIn => return None,
            RuleTask::SettleIn => self.unsettled(verdict)?,
            _ if verdict.condition == Condition::Nearing => self.nearing(verdict)?,
            _ if verdict.condition.wants_work() => verdict.reason.clone(),
            _ => self.due_by_then(verdict)?,
        };
        let (by, too_late) = self.by(verdict);
        let is_change = is_change(verdict.task) && verdict.condition != Condition::DoNotShoot;
        let why = match self.change {
            LastChange::Over(_) if too_late => format!("{why}; too late to settle in: {LEAVE_IT}"),
            LastChange::Unknown(_) if is_change => {
                format!("{why}; no recent shooting to reckon the settling in by")
            }
            _ => why,
        };
        Some(Need {
            part: verdict.part,
            kind: verdict.kind,
            name: verdict.name.clone(),
            task: verdict.task,
            condition: verdict.condition,
            by,
            too_late,
            why,
        })
    }

    /// By which day, and whether that is too late.
    fn by(&self, verdict: &PartVerdict) -> (Date, bool) {
        if verdict.condition == Condition::DoNotShoot {
            return (self.today, false);
        }
        if !is_change(verdict.task) {
            // What is due already does not wait for the event.
            let due = matches!(verdict.condition, Condition::Overdue | Condition::Due);
            let by = if due { self.today } else { day_before(self.event).max(self.today) };
            return (by, false);
        }
        match self.change {
            LastChange::On(day) | LastChange::Unknown(day) => (day, false),
            LastChange::Over(day) => (day, true),
        }
    }

    /// Why work that is announced is wanted before the event: it will be due by then, or nobody can tell. What
    /// is expected after the event can wait until after it.
    fn nearing(&self, verdict: &PartVerdict) -> Option<String> {
        match self.expected_on(verdict) {
            None => Some(verdict.reason.clone()),
            Some(_) => self.due_by_then(verdict),
        }
    }

    /// When work is expected to come due, with the arrows of the event shot before.
    fn expected_on(&self, verdict: &PartVerdict) -> Option<Date> {
        band(self.left(verdict), self.shooting.pace, self.today).p50_on
    }

    /// What is left of a limit when the arrows of the event are taken off it.
    fn left(&self, verdict: &PartVerdict) -> Left {
        let arrows = self.event.arrows_expected;
        let shots = verdict.left.shots.map(|shots| shots.saturating_sub(arrows.into()));
        Left { shots, ..verdict.left }
    }

    /// Why work that is not due yet will be due before the event is over.
    fn due_by_then(&self, verdict: &PartVerdict) -> Option<String> {
        let arrows = self.event.arrows_expected;
        let left = self.left(verdict);
        let on = self.expected_on(verdict)?;
        if on > self.event.dates.ends_on() {
            return None;
        }
        let reason = &verdict.reason;
        Some(if left.until.is_some_and(|until| until <= on) {
            format!("{reason}; due on {on} by the calendar")
        } else {
            format!(
                "{reason}; due about {on} at the recent rate, with {arrows} arrows at the event"
            )
        })
    }

    /// Why a new part will not have settled, and been sighted in, before the event.
    fn unsettled(&self, verdict: &PartVerdict) -> Option<String> {
        let settling = verdict.condition == Condition::Settling;
        if !settling || !self.event.priority.wants_settled_bows() {
            return None;
        }
        let sight_in = i64::from(self.shooting.sight_in_shots);
        let shots = verdict.left.shots.map(|shots| shots.saturating_add(sight_in));
        let on = band(Left { shots, ..Left::default() }, self.shooting.pace, self.today).p50_on;
        let in_time = on.is_some_and(|on| on < self.event.dates.starts_on());
        let reason = &verdict.reason;
        (!in_time).then(|| format!("{reason}; not settled and sighted in before the event yet"))
    }
}

/// Whether the work takes a settled string or serving away.
const fn is_change(task: RuleTask) -> bool {
    matches!(task, RuleTask::ReServe | RuleTask::Change)
}

#[cfg(test)]
mod tests;
