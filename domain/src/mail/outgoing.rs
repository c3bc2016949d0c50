//! A mail on its way: what it is about, what makes it one of a kind, and how far it has come.

use jiff::{SignedDuration, Timestamp, civil::Date};

use crate::{
    ids::{BowId, EventId, LinkId, MailId, MemberId},
    words::words,
};

words! {
    /// What a mail is about.
    pub enum MailKind {
        /// What a person's bows need, at most once a day.
        Digest = "digest",
        /// A bow that must not be shot, at once.
        Stop = "stop",
        /// What the bow of somebody who goes to an event needs before it.
        Event = "event",
        /// What the bows of a coach's archers need before an event.
        Squad = "squad",
        /// An event that somebody was told of is on other days, or was called off.
        Moved = "moved",
        /// What the bench has to make in the weeks ahead.
        Bench = "bench",
        /// A bow of which nothing was logged for a while.
        Nudge = "nudge",
        /// Somebody is asked to join.
        Invitation = "invitation",
        /// Somebody wants to choose another password.
        Reset = "reset",
        /// A guardian is told that a minor stopped some mail.
        Quieted = "quieted",
    }
}

impl MailKind {
    /// Those that their recipient may stop: not those about safety, those about an account, and those
    /// that put right what another mail said.
    pub const STOPPABLE: [Self; 5] =
        [Self::Digest, Self::Event, Self::Squad, Self::Bench, Self::Nudge];

    /// Whether its recipient may stop it.
    #[must_use]
    pub fn stoppable(self) -> bool {
        Self::STOPPABLE.contains(&self)
    }

    /// Whether it waits for the end of its recipient's quiet hours.
    #[must_use]
    pub fn waits_for_morning(self) -> bool {
        self.stoppable() || self == Self::Moved
    }

    /// What it is called on a page, as the subject of a sentence.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Digest => "the daily mail of what bows need",
            Self::Stop => "notices that a bow must not be shot",
            Self::Event => "mail before the events that you go to",
            Self::Squad => "mail before the events that your archers go to",
            Self::Moved => "notices that an event is on other days or called off",
            Self::Bench => "the weekly list for the bench",
            Self::Nudge => "questions about a bow without logs",
            Self::Invitation => "invitations",
            Self::Reset => "links to choose another password",
            Self::Quieted => "notices to guardians",
        }
    }
}

words! {
    /// How far a mail has come.
    pub enum MailState {
        /// To be sent at its time.
        Due = "due",
        /// Taken by a worker, until its lease is over.
        Sending = "sending",
        /// A relay took it.
        Sent = "sent",
        /// A relay would not take it yet.
        Retry = "retry",
        /// The line broke after the last byte: the relay may have it.
        Uncertain = "uncertain",
        /// Not worth sending any more.
        Cancelled = "cancelled",
        /// No relay will ever take it; a person has to look.
        Dead = "dead",
    }
}

/// A row of the outbox: a mail to one person, carrying one or more reminders.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mail {
    /// Which mail.
    pub id: MailId,
    /// What it is about.
    pub kind: MailKind,
    /// To whom.
    pub recipient: MemberId,
    /// Their date when it is to be read.
    pub for_date: Date,
    /// What makes it one of a kind; see [`digest_key`], [`event_key`], [`stop_key`], [`link_key`].
    pub dedupe_key: String,
    /// How far it has come.
    pub state: MailState,
    /// When it was to go out, however often it was put off since.
    pub wanted_at: Timestamp,
    /// When to send it.
    pub due_at: Timestamp,
    /// How often it was tried.
    pub attempt: i32,
    /// The link that it carries, if it is about one.
    pub link: Option<LinkId>,
}

impl Mail {
    /// A mail that nobody has tried to send.
    #[must_use]
    pub fn new(
        id: MailId,
        kind: MailKind,
        recipient: MemberId,
        (due_at, for_date): (Timestamp, Date),
        dedupe_key: String,
    ) -> Self {
        let (state, attempt, link) = (MailState::Due, 0, None);
        Self {
            id,
            kind,
            recipient,
            for_date,
            dedupe_key,
            state,
            wanted_at: due_at,
            due_at,
            attempt,
            link,
        }
    }

    /// Whether it is too late to try it once more; see [`GIVE_UP_AFTER`].
    ///
    /// # Example
    /// ```
    /// use domain::{ids::{MailId, MemberId}, mail::{GIVE_UP_AFTER, Mail, MailKind}};
    /// use jiff::{SignedDuration, Timestamp, civil::date};
    /// use uuid::Uuid;
    /// let (id, to) = (MailId(Uuid::nil()), MemberId(Uuid::nil()));
    /// let at = (Timestamp::UNIX_EPOCH, date(1970, 1, 1));
    /// let mail = Mail::new(id, MailKind::Digest, to, at, "key".to_owned());
    /// let over = Timestamp::UNIX_EPOCH + GIVE_UP_AFTER;
    /// assert!(mail.is_given_up_at(over) && !mail.is_given_up_at(over - SignedDuration::from_secs(1)));
    /// ```
    #[must_use]
    pub fn is_given_up_at(&self, now: Timestamp) -> bool {
        now.duration_since(self.wanted_at) >= GIVE_UP_AFTER
    }
}

/// What makes a digest one of a kind: its recipient and their date.
///
/// # Example
/// ```
/// use domain::{ids::MemberId, mail::digest_key};
/// use uuid::Uuid;
/// let key = digest_key(MemberId(Uuid::nil()), jiff::civil::date(2027, 6, 1));
/// assert_eq!(key, "digest|00000000-0000-0000-0000-000000000000|2027-06-01");
/// ```
#[must_use]
pub fn digest_key(recipient: MemberId, on: Date) -> String {
    format!("{}|{recipient}|{on}", MailKind::Digest)
}

/// What makes a mail about an event one of a kind: the event, the day it starts on, the stage, and
/// for whom as what.
#[must_use]
pub fn event_key(
    kind: MailKind,
    event: EventId,
    starts_on: Date,
    stage: u16,
    recipient: MemberId,
) -> String {
    format!("{kind}|{event}|{starts_on}|{stage}|{recipient}")
}

/// What makes a notice one of a kind that puts an event's days right: the event, and what is true of it.
#[must_use]
pub fn moved_key(event: EventId, truth: &str, recipient: MemberId) -> String {
    format!("{}|{event}|{truth}|{recipient}", MailKind::Moved)
}

/// What makes a mail of which there is one for each recipient and day one of a kind.
#[must_use]
pub fn dated_key(kind: MailKind, recipient: MemberId, on: Date) -> String {
    format!("{kind}|{recipient}|{on}")
}

/// What makes a notice to a guardian one of a kind: the minor, what they stopped, and their date, so that
/// a kind that is stopped again and again on one day is told of once. `nth` counts the notices of that
/// day that had come to nothing before they went out.
///
/// # Example
/// ```
/// use domain::{ids::MemberId, mail::{MailKind, quieted_key}};
/// use jiff::civil::date;
/// use uuid::Uuid;
/// let key = |nth| quieted_key(MemberId(Uuid::nil()), MailKind::Event, date(2027, 6, 1), nth);
/// assert_eq!(key(0), "quieted|00000000-0000-0000-0000-000000000000|event|2027-06-01");
/// assert_eq!(key(1), "quieted|00000000-0000-0000-0000-000000000000|event|2027-06-01|1");
/// ```
#[must_use]
pub fn quieted_key(minor: MemberId, stopped: MailKind, on: Date, nth: u32) -> String {
    let key = format!("{}|{minor}|{stopped}|{on}", MailKind::Quieted);
    if nth == 0 { key } else { format!("{key}|{nth}") }
}

/// What makes a mail about a bow that must not be shot one of a kind: the bow and what happened, since
/// the parts of one bow that were stopped by one thing share a mail.
#[must_use]
pub fn stop_key(recipient: MemberId, bow: BowId, cycle: &str) -> String {
    format!("{}|{bow}|{cycle}|{recipient}", MailKind::Stop)
}

/// What makes a mail with a link one of a kind: the link.
#[must_use]
pub fn link_key(kind: MailKind, link: LinkId) -> String {
    format!("{kind}|{link}")
}

/// A mail that nobody has taken for so long after it was to go out is given up. What is still true of it is
/// raised again, in another.
pub const GIVE_UP_AFTER: SignedDuration = SignedDuration::from_hours(48);

/// How long to wait before a mail is tried again that a relay refused for now, by the number of tries so
/// far: 1, 5, 15 and 60 minutes, then hourly, until [`GIVE_UP_AFTER`].
///
/// # Example
/// ```
/// use domain::mail::retry_after_min;
/// assert_eq!([1, 2, 3, 4, 5, 500].map(retry_after_min), [1, 5, 15, 60, 60, 60]);
/// ```
#[must_use]
pub const fn retry_after_min(attempts: i32) -> i64 {
    match attempts {
        ..=1 => 1,
        2 => 5,
        3 => 15,
        _ => 60,
    }
}

/// How long to wait before a mail is tried again where the relay did not get as far as the mail: the same,
/// but no more than 10 minutes, so that all of them are out soon after it is back.
///
/// # Example
/// ```
/// use domain::mail::unreachable_after_min;
/// assert_eq!([1, 2, 3, 4, 500].map(unreachable_after_min), [1, 5, 10, 10, 10]);
/// ```
#[must_use]
pub const fn unreachable_after_min(attempts: i32) -> i64 {
    let usual = retry_after_min(attempts);
    if usual < 10 { usual } else { 10 }
}
