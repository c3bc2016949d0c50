//! What somebody may answer to a reminder from its mail, without signing in.

use jiff::{SignedDuration, Timestamp};

use crate::{
    ids::{MemberId, ReminderId},
    ledger::Clock,
    mail::MailKind,
    rules::RuleTask,
    words::words,
};

words! {
    /// An answer to a reminder of work.
    pub enum Act {
        /// The work was done.
        Done = "done",
        /// Ask again in a few days.
        Snooze = "snooze",
        /// Somebody else looks after that bow.
        NotMine = "not_mine",
    }
}

/// How long the links of a mail work.
pub const ACT_LINK_LIFETIME: SignedDuration = SignedDuration::from_hours(30 * 24);

/// For how long a reminder is put off by the link in its mail.
pub const SNOOZE_DAYS: i64 = 3;

/// What a link in a mail is good for: one answer to one reminder, until some day. It is sealed, so that
/// nobody makes one up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ActLink {
    /// Which reminder.
    pub reminder: ReminderId,
    /// Which answer.
    pub act: Act,
    /// From when on it does not work any more.
    pub expires_at: Timestamp,
}

impl ActLink {
    /// The link of a mail that was to go out at a moment. It is the same in every copy of that mail.
    #[must_use]
    pub fn new(reminder: ReminderId, act: Act, mailed_at: Timestamp) -> Self {
        let expires_at = mailed_at.saturating_add(ACT_LINK_LIFETIME).unwrap_or(mailed_at);
        Self { reminder, act, expires_at }
    }

    /// Whether it still works.
    #[must_use]
    pub fn works(&self, now: Timestamp) -> bool {
        now < self.expires_at
    }
}

/// What the link that stops mail is good for: one kind of mail to one person. It does not run out, since
/// a mail may be read years later.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct QuietLink {
    /// To whom.
    pub member: MemberId,
    /// Which kind.
    pub kind: MailKind,
}

/// Whether work can be said to be done by a link: what is recorded by a line of upkeep. A change needs the
/// string that was put on; what settles or is sighted in is done by shooting.
#[must_use]
pub const fn done_by_link(task: RuleTask) -> bool {
    matches!(task.clock(), Clock::Since(_)) || matches!(task, RuleTask::ReServe)
}
