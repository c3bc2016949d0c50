//! A reminder: the reason to write to somebody about something, once.

use jiff::{Timestamp, civil::Date};

use crate::{
    events::Event,
    ids::{BowId, EventId, MailId, MemberId, PartId, ReminderId, RuleId},
    ledger::Reading,
    rules::{Assessment, Condition, PartRecord, RuleTask, Stop, Verdict},
    words::words,
};

words! {
    /// Where a reminder stands.
    pub enum ReminderState {
        /// Raised; its mail has not gone out yet.
        Raised = "raised",
        /// Its mail went out.
        Sent = "sent",
        /// No longer true before its mail went out.
        Cancelled = "cancelled",
        /// Its recipient says that it is done.
        Done = "done",
        /// Its recipient wants to hear of it again later.
        Snoozed = "snoozed",
        /// Its recipient says that the bow is not theirs.
        Disowned = "disowned",
    }
}

/// What a reminder is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// Work that a rule asks for on a part under a bow.
    Work {
        /// Which rule.
        rule: RuleId,
        /// Which work.
        task: RuleTask,
        /// On which part.
        part: PartId,
        /// Of which bow.
        bow: BowId,
    },
    /// A part under a bow that must not be shot.
    Stop {
        /// Which part.
        part: PartId,
        /// Of which bow.
        bow: BowId,
    },
    /// A bow that must not be shot, whatever hangs on it.
    BowStop {
        /// Which bow.
        bow: BowId,
    },
    /// What a bow needs before an event; without a bow, what all of a coach's need.
    Event {
        /// Which event.
        event: EventId,
        /// With which bow.
        bow: Option<BowId>,
    },
    /// What the bench has to make in the weeks ahead.
    Bench,
    /// A bow of which nothing was logged for a while.
    Silence {
        /// Which bow.
        bow: BowId,
    },
}

impl About {
    /// How the kind is called in the database and on the wire.
    #[must_use]
    pub const fn kind(self) -> &'static str {
        match self {
            Self::Work { .. } => "maintenance",
            Self::Stop { .. } | Self::BowStop { .. } => "stop",
            Self::Event { .. } => "event",
            Self::Bench => "bench",
            Self::Silence { .. } => "silence",
        }
    }

    /// Which part, if it is about one.
    #[must_use]
    pub const fn part(self) -> Option<PartId> {
        match self {
            Self::Work { part, .. } | Self::Stop { part, .. } => Some(part),
            Self::BowStop { .. } | Self::Event { .. } | Self::Bench | Self::Silence { .. } => None,
        }
    }

    /// Which bow, if it is about one.
    #[must_use]
    pub const fn bow(self) -> Option<BowId> {
        match self {
            Self::Work { bow, .. }
            | Self::Stop { bow, .. }
            | Self::BowStop { bow }
            | Self::Silence { bow } => Some(bow),
            Self::Bench => None,
            Self::Event { bow, .. } => bow,
        }
    }

    /// What makes a reminder one of a kind: its kind, rule, subject, cycle, recipient and stage.
    /// The same stage is told once a cycle, and anew in the next.
    ///
    /// # Example
    /// ```
    /// use domain::{ids::*, reminders::About, rules::RuleTask};
    /// use uuid::Uuid;
    /// let nil = Uuid::nil();
    /// let (part, bow) = (PartId(nil), BowId(nil));
    /// let about = About::Work { rule: RuleId(nil), task: RuleTask::Wax, part, bow };
    /// let key = about.dedupe_key("first", MemberId(nil), "due");
    /// assert_eq!(key, format!("maintenance|{nil}|{nil}|first|{nil}|due"));
    /// ```
    #[must_use]
    pub fn dedupe_key(self, cycle: &str, recipient: MemberId, stage: &str) -> String {
        let kind = self.kind();
        let (rule, subject) = match self {
            Self::Work { rule, part, .. } => (rule.to_string(), part.to_string()),
            Self::Stop { part, bow } => (String::new(), format!("{part}/{bow}")),
            Self::BowStop { bow } => (String::new(), format!("/{bow}")),
            Self::Bench => (String::new(), String::new()),
            Self::Silence { bow } => (String::new(), bow.to_string()),
            Self::Event { event, bow: Some(bow) } => (String::new(), format!("{event}/{bow}")),
            Self::Event { event, bow: None } => (String::new(), event.to_string()),
        };
        format!("{kind}|{rule}|{subject}|{cycle}|{recipient}|{stage}")
    }
}

/// A reason to write to one person about one thing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reminder {
    /// Which reminder.
    pub id: ReminderId,
    /// What it is about.
    pub about: About,
    /// To whom.
    pub recipient: MemberId,
    /// How urgent it was when it was raised: a condition, or the days before an event.
    pub stage: String,
    /// In which cycle; see [`cycle`], [`stop_cycle`] and [`event_cycle`].
    pub cycle: String,
    /// Why, in words and numbers.
    pub reason: String,
    /// What makes it one of a kind; see [`About::dedupe_key`].
    pub dedupe_key: String,
    /// Where it stands.
    pub state: ReminderState,
    /// When it was raised.
    pub raised_at: Timestamp,
    /// The mail that carries it.
    pub mail_id: MailId,
}

impl Reminder {
    /// What is now true of the work this reminds of: nothing, if it was done or is not due any
    /// more, or if its part is no longer on record here.
    #[must_use]
    pub fn still_true<'a>(
        &self,
        record: &PartRecord,
        assessment: &'a Assessment,
    ) -> Option<&'a Verdict> {
        let About::Work { rule, task, .. } = self.about else { return None };
        let reading = record.reading(task.clock())?;
        assessment.verdicts.iter().find(|verdict| {
            verdict.rule_id == rule
                && verdict.condition.wants_work()
                && cycle(reading) == self.cycle
        })
    }

    /// Takes it into another stage, in which it is another reminder of the same thing.
    pub fn enter(&mut self, stage: String) {
        self.dedupe_key = self.about.dedupe_key(&self.cycle, self.recipient, &stage);
        self.stage = stage;
    }

    /// What reminders of the same thing to the same person in one cycle have in common, however urgent it
    /// was when each was raised.
    #[must_use]
    pub fn whatever_its_stage(&self) -> &str {
        self.dedupe_key.strip_suffix(self.stage.as_str()).unwrap_or(&self.dedupe_key)
    }

    /// Whether what this says must not be shot is still stopped for the same cause.
    #[must_use]
    pub fn still_stopped(&self, stop: Option<Stop>) -> bool {
        stop.is_some_and(|stop| stop_cycle(stop) == self.cycle)
    }
}

/// Which round of the work a count belongs to. A cycle opens when the work was last done; entries
/// that arrive late change counts but open no cycle.
#[must_use]
pub fn cycle(reading: Reading) -> String {
    reading.reset_at.map_or_else(|| "first".to_owned(), |at| at.to_string())
}

/// The cycle of a stop: what happened, and when.
#[must_use]
pub fn stop_cycle(stop: Stop) -> String {
    format!("{} {}", stop.cause.label(), stop.at)
}

/// The cycle of an event: one that is moved is told anew.
#[must_use]
pub fn event_cycle(starts_on: Date) -> String {
    starts_on.to_string()
}

/// The stage of a reminder that an event is on other days than those that were told.
pub const MOVED: &str = "moved";

/// What is true of an event, for a reminder that puts it right: its days, or that it was called off. Days to
/// which it comes back are told anew, so its version is part of it.
#[must_use]
pub fn moved_cycle(event: &Event) -> String {
    if event.cancelled_at.is_some() {
        return "called off".to_owned();
    }
    let (first, last) = (event.dates.starts_on(), event.dates.ends_on());
    format!("{first}/{last}, version {}", event.version)
}

/// Overdue work that nobody did is told again after so many days: people forget. Common practice, no
/// source.
pub const AGAIN_AFTER_DAYS: i32 = 7;

/// The stage of overdue work that was told on a day: the same for a week, then another, so that it is told
/// once more in each week.
///
/// # Example
/// ```
/// use domain::reminders::overdue_stage;
/// use jiff::civil::date;
/// let stage = |day| overdue_stage(date(2027, 6, 1), date(2027, 6, day));
/// assert_eq!([1, 7].map(stage), ["overdue"; 2]);
/// assert_eq!([8, 14, 15].map(stage), ["overdue, week 2", "overdue, week 2", "overdue, week 3"]);
/// ```
#[must_use]
pub fn overdue_stage(first_told_on: Date, today: Date) -> String {
    let days = first_told_on.until(today).map_or(0, |span| span.get_days());
    match days / AGAIN_AFTER_DAYS {
        ..=0 => work_stage(Condition::Overdue),
        weeks => format!("{}, week {}", Condition::Overdue, weeks + 1),
    }
}

/// The stage of work: how urgent it is.
#[must_use]
pub fn work_stage(condition: Condition) -> String {
    condition.to_string()
}
