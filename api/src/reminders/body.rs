//! How a reminder is written, with the mail that carries it.

use std::collections::BTreeMap;

use domain::{ids::MemberId, reminders::About};
use jiff::Timestamp;
use serde::Serialize;
use store::{Read, StoreError, outbox::Posted, reminders::Listed};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{auth::SignedIn, wording::cut};

/// The most characters of a relay's answer that are shown: it is a stranger's text.
const MOST_OF_AN_ANSWER: usize = 500;

/// A reminder.
#[derive(Serialize, ToSchema)]
pub(crate) struct ReminderBody {
    pub(super) id: Uuid,
    /// What it is about: `maintenance`, `stop`, `event`, `bench` or `silence`.
    #[schema(example = "maintenance")]
    kind: &'static str,
    rule_id: Option<Uuid>,
    #[schema(example = "wax")]
    task: Option<&'static str>,
    part_id: Option<Uuid>,
    bow_id: Option<Uuid>,
    event_id: Option<Uuid>,
    recipient_member_id: Uuid,
    #[schema(example = "Tobin Larkmoor")]
    recipient_name: String,
    /// How urgent it was when it was raised: a condition, or the days before an event.
    #[schema(example = "due")]
    stage: String,
    reason: String,
    /// `raised` until its mail goes out, then `sent`; `cancelled` if it was not true any more by then;
    /// `done`, `snoozed` or `disowned` as it was answered.
    #[schema(example = "raised")]
    state: &'static str,
    #[schema(value_type = String, format = DateTime)]
    raised_at: Timestamp,
    /// When it was answered.
    #[schema(value_type = Option<String>, format = DateTime, example = json!(null))]
    answered_at: Option<Timestamp>,
    /// Until when its recipient hears no more of it.
    #[schema(value_type = Option<String>, format = DateTime, example = json!(null))]
    snoozed_until: Option<Timestamp>,
    mail_id: Uuid,
    /// The mail that carries it.
    mail: Option<CarriedBy>,
}

/// A mail, and what became of it.
#[derive(Serialize, ToSchema)]
pub(crate) struct CarriedBy {
    pub(crate) id: Uuid,
    #[schema(example = "digest")]
    pub(crate) kind: &'static str,
    /// `due`, `sending`, `retry` or `uncertain` while it is on its way; then `sent`, `cancelled`, or
    /// `dead`: a person has to look.
    #[schema(example = "sent")]
    pub(crate) state: &'static str,
    /// When it is to go out next, or was to.
    #[schema(value_type = String, format = DateTime)]
    pub(crate) due_at: Timestamp,
    /// When it was to go out first, however often it was put off since.
    #[schema(value_type = String, format = DateTime)]
    pub(crate) wanted_at: Timestamp,
    /// When it was last tried.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub(crate) tried_at: Option<Timestamp>,
    /// When it was sent, cancelled or given up.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub(crate) finished_at: Option<Timestamp>,
    /// How often it was tried.
    #[schema(example = 1, minimum = 0)]
    pub(crate) attempts: i32,
    /// What the relay said, or why it was not sent: the first 500 characters, without control characters.
    #[schema(example = "250 2.0.0 taken", max_length = 500)]
    pub(crate) answer: Option<String>,
}

impl From<&Posted> for CarriedBy {
    fn from(posted: &Posted) -> Self {
        let mail = &posted.mail;
        Self {
            id: mail.id.0,
            kind: mail.kind.as_str(),
            state: mail.state.as_str(),
            due_at: mail.due_at,
            wanted_at: mail.wanted_at,
            tried_at: posted.tried_at,
            finished_at: posted.finished_at,
            attempts: mail.attempt,
            answer: posted.outcome.as_deref().map(shown),
        }
    }
}

/// A stranger's words as they may be shown: on one line, and not all of them.
fn shown(answer: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    cut(&answer.chars().map(plain).collect::<String>(), MOST_OF_AN_ANSWER)
}

impl ReminderBody {
    fn of(listed: Listed, names: &BTreeMap<MemberId, String>, mail: Option<&Posted>) -> Self {
        let Listed { reminder, answered_at, snoozed_until } = listed;
        let about = reminder.about;
        let (rule, task, event) = match about {
            About::Work { rule, task, .. } => (Some(rule.0), Some(task.as_str()), None),
            About::Stop { .. } | About::BowStop { .. } | About::Bench | About::Silence { .. } => {
                (None, None, None)
            }
            About::Event { event, .. } => (None, None, Some(event.0)),
        };
        Self {
            id: reminder.id.0,
            kind: about.kind(),
            rule_id: rule,
            task,
            part_id: about.part().map(|part| part.0),
            bow_id: about.bow().map(|bow| bow.0),
            event_id: event,
            recipient_member_id: reminder.recipient.0,
            recipient_name: names.get(&reminder.recipient).cloned().unwrap_or_default(),
            stage: reminder.stage,
            reason: reminder.reason,
            state: reminder.state.as_str(),
            raised_at: reminder.raised_at,
            answered_at,
            snoozed_until,
            mail_id: reminder.mail_id.0,
            mail: mail.map(CarriedBy::from),
        }
    }

    /// Reminders as they are on record, with as many statements for one as for a page of them.
    pub(super) fn some(
        read: &mut Read<'_>,
        who: SignedIn,
        listed: Vec<Listed>,
    ) -> Result<Vec<Self>, StoreError> {
        let ids: Vec<_> = listed.iter().map(|one| one.reminder.mail_id).collect();
        let mails = store::mails::some(read, who.club, &ids)?;
        let names = store::members::names(read, who.club)?;
        let body = |one: Listed| {
            let mail = mails.get(&one.reminder.mail_id);
            Self::of(one, &names, mail)
        };
        Ok(listed.into_iter().map(body).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_relays_answer_is_shown_on_one_line_and_not_endlessly() {
        assert_eq!(shown("250 2.0.0 taken"), "250 2.0.0 taken");
        assert_eq!(shown("550 no\r\nsuch\u{1b}[31m user\0"), "550 no  such [31m user ");
        assert_eq!(shown(&"x".repeat(100_000)).chars().count(), MOST_OF_AN_ANSWER);
    }
}
