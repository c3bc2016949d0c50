//! A reminder: the reason to write to somebody about something, once.

use jiff::Timestamp;

use crate::{
    ids::{BowId, MailId, MemberId, PartId, ReminderId, RuleId},
    ledger::Reading,
    rules::{Assessment, Condition, PartRecord, RuleTask, Verdict},
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
    }
}

/// A reason to write to one person about one piece of work on one part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reminder {
    /// Which reminder.
    pub id: ReminderId,
    /// By which rule.
    pub rule_id: RuleId,
    /// Which work.
    pub task: RuleTask,
    /// On which part.
    pub part_id: PartId,
    /// Of which bow.
    pub bow_id: BowId,
    /// To whom.
    pub recipient: MemberId,
    /// How urgent it was when it was raised.
    pub stage: Condition,
    /// In which cycle of the work; see [`cycle`].
    pub cycle: String,
    /// Why, in words and numbers.
    pub reason: String,
    /// What makes it one of a kind; see [`dedupe_key`].
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
        let reading = record.reading(self.task.clock())?;
        assessment.verdicts.iter().find(|verdict| {
            verdict.rule_id == self.rule_id
                && verdict.condition.wants_work()
                && cycle(reading) == self.cycle
        })
    }
}

/// Which round of the work a count belongs to. A cycle opens when the work was last done; entries
/// that arrive late change counts but open no cycle.
#[must_use]
pub fn cycle(reading: Reading) -> String {
    reading.reset_at.map_or_else(|| "first".to_owned(), |at| at.to_string())
}

/// What makes a reminder one of a kind: rule, part, cycle, recipient and stage. The same stage is
/// told once a cycle, and anew in the next.
///
/// # Example
/// ```
/// use domain::{ids::*, reminders::dedupe_key, rules::Condition};
/// use uuid::Uuid;
/// let nil = Uuid::nil();
/// let key = dedupe_key(RuleId(nil), PartId(nil), "first", MemberId(nil), Condition::Due);
/// assert_eq!(key, format!("maintenance|{nil}|{nil}|first|{nil}|due"));
/// ```
#[must_use]
pub fn dedupe_key(
    rule_id: RuleId,
    part_id: PartId,
    cycle: &str,
    recipient: MemberId,
    stage: Condition,
) -> String {
    format!("maintenance|{rule_id}|{part_id}|{cycle}|{recipient}|{stage}")
}
