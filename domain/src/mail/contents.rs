//! What is said to people, before it is worded.

use jiff::{
    Timestamp,
    civil::{Date, DateTime},
};

use crate::{
    bows::Bow,
    calendar::Work,
    ids::{BowId, EventId, PartId, ReminderId},
    links::Link,
    mail::{Act, MailKind, Since, ToldWork},
    parts::PartKind,
    planning::bench::Week,
    rules::{Condition, RuleTask},
    text::Name,
    time::Zone,
};

/// The content of a digest.
#[derive(Debug, Clone, PartialEq)]
pub struct Digest {
    /// From which club.
    pub club: Name,
    /// To whom.
    pub recipient: Name,
    /// Their date.
    pub on: Date,
    /// What there is to do, the most urgent first; never empty.
    pub lines: Vec<DigestLine>,
}

/// One piece of work in a digest.
#[derive(Debug, Clone, PartialEq)]
pub struct DigestLine {
    /// Of which reminder; what its recipient may answer names it.
    pub reminder: ReminderId,
    /// What they may answer.
    pub acts: Vec<Act>,
    /// On which bow.
    pub bow: Bow,
    /// Who shoots that bow.
    pub archer: Option<Name>,
    /// Why the bow must not be shot now, if so.
    pub stopped: Option<String>,
    /// What the part is.
    pub part_kind: PartKind,
    /// What the part is called.
    pub part: Name,
    /// Which work.
    pub task: RuleTask,
    /// How urgent.
    pub condition: Condition,
    /// Why, in words and numbers.
    pub reason: String,
    /// Which round of the work; its entry in a calendar is known by that.
    pub work: Work,
    /// From when until when it is expected to come due, if it is not due yet and anybody can tell.
    pub window: Option<(Date, Date)>,
}

/// The content of a notice that a bow must not be shot.
#[derive(Debug, Clone, PartialEq)]
pub struct StopNotice {
    /// From which club.
    pub club: Name,
    /// To whom.
    pub recipient: Name,
    /// Which bow.
    pub bow: Bow,
    /// Who shoots it.
    pub archer: Option<Name>,
    /// Why the bow itself must not be shot, in words, and what would lift it; none if only parts of it
    /// must not.
    pub stopped: Option<String>,
    /// Which of its parts, and why; never empty if the bow itself may be shot.
    pub parts: Vec<StoppedPart>,
    /// Who looks after it and cannot be reached by mail: somebody has to tell them.
    pub unreached: Vec<Name>,
}

/// A part that must not be shot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoppedPart {
    /// What it is.
    pub kind: PartKind,
    /// What it is called.
    pub name: Name,
    /// Why, in words, and what would lift it.
    pub reason: String,
}

/// The content of a mail before an event: to somebody who goes, or to a coach of those who go.
#[derive(Debug, Clone, PartialEq)]
pub struct EventNotice {
    /// From which club.
    pub club: Name,
    /// To whom.
    pub recipient: Name,
    /// It is the summary for a coach.
    pub for_coach: bool,
    /// Which event.
    pub event_id: EventId,
    /// What it is called.
    pub event: Name,
    /// Its first day.
    pub starts_on: Date,
    /// Its last day.
    pub ends_on: Date,
    /// How often it was changed, and one more.
    pub version: i32,
    /// When it was last changed.
    pub changed_at: Timestamp,
    /// On which day of the recipient's it is told.
    pub on: Date,
    /// How many days are left until then.
    pub days_left: i64,
    /// Each bow that goes, and what it needs; never empty.
    pub bows: Vec<GoingBow>,
}

/// A bow that goes to an event.
#[derive(Debug, Clone, PartialEq)]
pub struct GoingBow {
    /// Which bow.
    pub bow_id: BowId,
    /// What it is called.
    pub bow: Name,
    /// Who goes with it.
    pub archer: Name,
    /// Why it must not be shot now, if so.
    pub stopped: Option<String>,
    /// What it needs before the event, what comes first first.
    pub works: Vec<EventWork>,
    /// Until when its string and serving may be changed.
    pub change: ChangeWindow,
    /// What has changed since the last mail about it before this event, if there was one.
    pub since: Option<Since>,
}

impl GoingBow {
    /// Whether there is anything to be done with it.
    #[must_use]
    pub const fn needs_something(&self) -> bool {
        self.stopped.is_some() || !self.works.is_empty()
    }
}

/// Work to be done before an event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EventWork {
    /// Until which day; none if it is too late for a change to settle, so that it has to wait.
    pub by: Option<Date>,
    /// On which part.
    pub part_id: PartId,
    /// What the part is.
    pub part_kind: PartKind,
    /// What the part is called.
    pub part: Name,
    /// Which work.
    pub task: RuleTask,
    /// How urgent it is now.
    pub condition: Condition,
    /// Why, in words and numbers.
    pub reason: String,
}

/// Until when a string or serving may be changed, so that it settles and is sighted in before an
/// event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChangeWindow {
    /// The event is not one to settle a bow for.
    Open,
    /// Until that day.
    Until(Date),
    /// It is too late.
    Closed,
    /// Nobody knows how much the bow is shot.
    Unknown,
}

/// The content of a notice that puts right what was told of an event's days.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MovedNotice {
    /// From which club.
    pub club: Name,
    /// To whom.
    pub recipient: Name,
    /// Which event.
    pub event_id: EventId,
    /// What it is called.
    pub event: Name,
    /// On which day the recipient was told of it last.
    pub told_on: Date,
    /// The first and last day that they were told.
    pub told: (Date, Date),
    /// Which work they were told to do before it, on all of their bows, since it was last put right.
    pub told_works: Vec<ToldWork>,
    /// Its first and last day now.
    pub days: (Date, Date),
    /// It was called off.
    pub called_off: bool,
    /// How often it was changed, and one more.
    pub version: i32,
    /// When it was last changed or called off.
    pub changed_at: Timestamp,
}

/// The content of the weekly list for the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchList {
    /// From which club.
    pub club: Name,
    /// To whom.
    pub recipient: Name,
    /// Their date.
    pub on: Date,
    /// What there is to make, what is wanted first first; never empty.
    pub jobs: Vec<BenchJob>,
    /// The weeks ahead.
    pub weeks: Vec<Week>,
    /// How many jobs the bench makes a week.
    pub jobs_per_week: u32,
    /// The bench makes jobs for others too, which are not on this list.
    pub others: usize,
}

/// A string to be made, or a serving to be wound.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchJob {
    /// For which bow.
    pub bow: Name,
    /// Who shoots it.
    pub archer: Option<Name>,
    /// Its length and draw weight, which a string is made for.
    pub size: String,
    /// What the part is.
    pub part_kind: PartKind,
    /// What it is called.
    pub part: Name,
    /// What it is made of, and of how many strands, as far as that is on record.
    pub made_of: Option<String>,
    /// Which work.
    pub task: RuleTask,
    /// How urgent it is now.
    pub condition: Condition,
    /// By when it is expected to fall due; the day of the list, if it has.
    pub by: Date,
    /// Why, in words and numbers.
    pub reason: String,
}

/// The content of a question about a bow of which nothing was logged for a while.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SilenceNotice {
    /// From which club.
    pub club: Name,
    /// To whom.
    pub recipient: Name,
    /// Which bow.
    pub bow: Name,
    /// Its id, which a log names.
    pub bow_id: BowId,
    /// The day of its last log.
    pub last_on: Date,
    /// How many days ago that is.
    pub days: i64,
}

/// The content of a notice to a guardian: which kinds of mail a minor has stopped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuietedNotice {
    /// From which club.
    pub club: Name,
    /// To which guardian.
    pub guardian: Name,
    /// Who stopped them.
    pub minor: Name,
    /// Which; never empty.
    pub kinds: Vec<MailKind>,
}

/// The content of a mail that carries a link: what it is for is the link's.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LinkNotice {
    /// From which club.
    pub club: Name,
    /// For whom the link is; a minor's guardian gets it with them, or in their place.
    pub recipient: Name,
    /// Which link. What the mail shows of it is sealed when it is written.
    pub link: Link,
    /// Until when it works, as the recipient's clock has it.
    pub until: DateTime,
    /// Where that clock is.
    pub zone: Zone,
}
