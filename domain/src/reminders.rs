//! A reminder: the reason to write to somebody about something, once.

use jiff::Timestamp;

use crate::{
    ids::{BowId, MailId, MemberId, PartId, ReminderId, RuleId},
    ledger::Reading,
    rules::{Condition, RuleTask, Verdict},
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

/// What makes a reminder one of a kind: rule, part, cycle, recipient and stage.
///
/// A cycle opens when the work was last done, so the same stage is told once a cycle and anew in
/// the next; entries that arrive late change counts but open no cycle.
///
/// # Example
/// ```
/// use domain::{ids::*, ledger::*, reminders::dedupe_key, rules::*};
/// use uuid::Uuid;
/// let verdict = Verdict {
///     rule_id: RuleId(Uuid::nil()), task: RuleTask::Change, condition: Condition::Due,
///     trigger: Trigger::Shots, count: 15_000, limit: 15_000, reason: String::new(),
/// };
/// let life = Reading { clock: Clock::Life, shots: 15_000, reset_at: None };
/// let key = dedupe_key(&verdict, PartId(Uuid::nil()), life, MemberId(Uuid::nil()));
/// let nil = Uuid::nil();
/// assert_eq!(key, format!("maintenance|{nil}|{nil}|first|{nil}|due"));
/// ```
#[must_use]
pub fn dedupe_key(
    verdict: &Verdict,
    part_id: PartId,
    reading: Reading,
    recipient: MemberId,
) -> String {
    let cycle = reading.reset_at.map_or_else(|| "first".to_owned(), |at| at.to_string());
    let (rule, stage) = (verdict.rule_id, verdict.condition);
    format!("maintenance|{rule}|{part_id}|{cycle}|{recipient}|{stage}")
}
