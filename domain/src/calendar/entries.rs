//! What stands in a calendar: events, the days in which work comes due, and bows that must not be shot.
//! Knows no clock and no record: it is handed what was found, and the day on which it was reckoned.

use jiff::{
    Span, Timestamp,
    civil::{Date, Time},
};

use super::{Entry, FURTHEST_DAYS, Host, State, Work};
use crate::{
    events::Event,
    ids::{BowId, EventId, PartId},
    mail::ToldWork,
    parts::PartKind,
    rules::{Condition, RuleTask},
    safety::FIRST,
    text::{Name, capitalised},
    time::Zone,
};

/// On which day, and for ids of which host, something was reckoned.
#[derive(Debug, Clone, Copy)]
pub struct Reckoned<'a> {
    /// The day.
    pub on: Date,
    /// The host.
    pub host: &'a Host,
}

/// From this day on the days are counted that what is reckoned anew each day is numbered by.
///
/// Of two entries with one id the one with the higher SEQUENCE counts, and of two with the same the later
/// one (RFC 5546, section 2.1.5). What was reckoned on the day N has 2 N, and what takes it out again has
/// 2 N + 1: more than what it takes out, less than what is reckoned on the day after, whenever it is sent.
const DAY_ZERO: Date = Date::constant(2020, 1, 1);

impl Reckoned<'_> {
    /// An entry of the day on which it was reckoned. It counts for more than that of the day before, and
    /// leaves its days as free as they are.
    fn entry(&self, uid: String, summary: String, said: &str, days: (Date, Date)) -> Entry {
        let stamp = Zone::utc().instant(self.on, Time::midnight());
        Entry {
            uid,
            summary,
            description: with_caution(said),
            days: days.0..=days.1,
            sequence: DAY_ZERO.until(self.on).map_or(0, |span| span.get_days().saturating_mul(2)),
            stamp: stamp.unwrap_or(Timestamp::UNIX_EPOCH),
            state: State::Tentative,
            transparent: true,
        }
    }
}

/// What comes first wherever something is advised.
fn with_caution(said: &str) -> String {
    if said.is_empty() { FIRST.to_owned() } else { format!("{said}\n\n{FIRST}") }
}

/// The first letters of a name, as a minor is called where others read it.
///
/// # Example
/// ```
/// use domain::{calendar::initials, text::Name};
/// assert_eq!(initials(&Name::parse("tobin de Larkmoor-Hill")?), "T. D. L.");
/// # Ok::<(), domain::text::TextError>(())
/// ```
#[must_use]
pub fn initials(name: &Name) -> String {
    let words = name.as_str().split_whitespace();
    let letters = words.filter_map(|word| word.chars().find(|c| c.is_alphabetic()));
    let letters: Vec<String> =
        letters.map(|letter| format!("{}.", letter.to_uppercase())).collect();
    letters.join(" ")
}

/// What work before an event is known by.
fn before_uid(event: EventId, part: PartId, task: RuleTask, host: &Host) -> String {
    format!("before-{event}-{part}-{task}@{host}")
}

/// An event, as far as a calendar shows it.
#[derive(Debug, Clone, Copy)]
pub struct Occasion<'a> {
    /// Which event.
    pub id: EventId,
    /// What it is called.
    pub name: &'a Name,
    /// Its first and last day.
    pub days: (Date, Date),
    /// How often it was changed, and one more.
    pub version: i32,
    /// When it was last changed or called off.
    pub changed_at: Timestamp,
    /// It was called off.
    pub called_off: bool,
}

impl<'a> From<&'a Event> for Occasion<'a> {
    fn from(event: &'a Event) -> Self {
        Self {
            id: event.id,
            name: &event.name,
            days: (event.dates.starts_on(), event.dates.ends_on()),
            version: event.version,
            changed_at: event.changed_at,
            called_off: event.cancelled_at.is_some(),
        }
    }
}

impl Occasion<'_> {
    /// The entry of the event; `going` says who goes with what, a line each.
    #[must_use]
    pub fn entry(&self, going: &[String], host: &Host) -> Entry {
        let (state, said) = if self.called_off {
            (State::Cancelled, "Called off.".to_owned())
        } else {
            (State::Confirmed, going.join("\n"))
        };
        Entry {
            uid: host.event_uid(self.id),
            summary: self.name.to_string(),
            description: with_caution(&said),
            days: self.days.0..=self.days.1,
            sequence: self.version.saturating_sub(1),
            stamp: self.changed_at,
            state,
            transparent: false,
        }
    }

    /// The entry that takes out work which somebody was told on a day to do before the event: the day by
    /// which it had to be done went by days that the event is not on any more.
    #[must_use]
    pub fn no_more(&self, told: &ToldWork, told_on: Date, host: &Host) -> Option<Entry> {
        let by = told.by?;
        let task = capitalised(&told.task.instruction(told.part_kind));
        let said = if self.called_off { "Called off." } else { "The event is on other days." };
        let uid = before_uid(self.id, told.part, told.task, host);
        let summary = format!("{task} before {}", self.name);
        let entry = Reckoned { on: told_on, host }.entry(uid, summary, said, (by, by));
        let sequence = entry.sequence.saturating_add(1);
        Some(Entry { sequence, stamp: self.changed_at, state: State::Cancelled, ..entry })
    }

    /// The entry of work that has to be done on a bow before the event, by a day.
    #[must_use]
    pub fn work_before(&self, by: Date, due: &BeforeEvent<'_>, reckoned: Reckoned<'_>) -> Entry {
        let uid = before_uid(self.id, due.part, due.task, reckoned.host);
        let task = capitalised(&due.task.instruction(due.kind));
        let summary = format!("{task} before {}: {}", self.name, due.bow);
        let said = format!("By this day at the latest. {}: {}", due.part_name, due.reason);
        reckoned.entry(uid, summary, &said, (by, by))
    }
}

/// Work that has to be done on a part before an event.
#[derive(Debug, Clone, Copy)]
pub struct BeforeEvent<'a> {
    /// Of which bow.
    pub bow: &'a Name,
    /// On which part.
    pub part: PartId,
    /// What it is.
    pub kind: PartKind,
    /// What it is called.
    pub part_name: &'a Name,
    /// Which work.
    pub task: RuleTask,
    /// Why, in words and numbers.
    pub reason: &'a str,
}

/// Work on a part that is due, or expected to come due.
#[derive(Debug, Clone, Copy)]
pub struct DueWork<'a> {
    /// Which round of it.
    pub work: &'a Work,
    /// Of which bow.
    pub bow: &'a Name,
    /// Who shoots that bow, if that is to be shown.
    pub archer: Option<&'a str>,
    /// What the part is.
    pub kind: PartKind,
    /// What it is called.
    pub part: &'a Name,
    /// Which work.
    pub task: RuleTask,
    /// How urgent it is now.
    pub condition: Condition,
    /// Why, in words and numbers.
    pub reason: &'a str,
    /// From when until when it is expected to come due, if anybody can tell.
    pub window: Option<(Date, Date)>,
}

impl DueWork<'_> {
    /// Its entry: on the day of reckoning if it is due, else on the days in which it is expected. None
    /// if nobody can tell those days, if they lie too far ahead, or if the part settles, which is no
    /// work. A part that must not be shot has no entry of its own: its bow has one.
    #[must_use]
    pub fn entry(&self, reckoned: Reckoned<'_>) -> Option<Entry> {
        let task = self.task.instruction(self.kind);
        let shot_by = self.archer.map(|archer| format!("\nShot by {archer}")).unwrap_or_default();
        let said = format!("{}: {}{shot_by}", self.part, self.reason);
        let (summary, said, days) = match self.condition {
            Condition::Due | Condition::Overdue => {
                let summary = format!("{} now: {task}", capitalised(self.condition.label()));
                (summary, said, (reckoned.on, reckoned.on))
            }
            Condition::Nearing | Condition::Sound | Condition::Settling
                if self.task != RuleTask::SettleIn =>
            {
                let (first, last) = self.window?;
                let furthest = reckoned.on.saturating_add(Span::new().days(FURTHEST_DAYS));
                let first = first.max(reckoned.on);
                if first > furthest {
                    return None;
                }
                let said = format!("{said}\nExpected in these days, if it is shot as of late.");
                (capitalised(&task), said, (first, last.clamp(first, furthest)))
            }
            _ => return None,
        };
        let uid = self.work.uid(reckoned.host);
        Some(reckoned.entry(uid, format!("{summary}: {}", self.bow), &said, days))
    }
}

/// A bow that must not be shot now.
#[derive(Debug, Clone, Copy)]
pub struct StoppedBow<'a> {
    /// Which bow.
    pub id: BowId,
    /// What it is called.
    pub name: &'a Name,
    /// Why, in words.
    pub reason: &'a str,
}

impl StoppedBow<'_> {
    /// Its entry, on the day of reckoning.
    #[must_use]
    pub fn entry(&self, reckoned: Reckoned<'_>) -> Entry {
        let uid = format!("stop-{}@{}", self.id, reckoned.host);
        let summary = format!("DO NOT SHOOT {}: inspect it first", self.name);
        let entry = reckoned.entry(uid, summary, self.reason, (reckoned.on, reckoned.on));
        Entry { state: State::Confirmed, ..entry }
    }
}

#[cfg(test)]
mod tests;
