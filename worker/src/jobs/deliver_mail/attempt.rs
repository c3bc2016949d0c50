//! One mail: what became of it, and how that is recorded. The round and its pace are not its business.

use domain::{
    ids::ReminderId,
    mail::{MailKind, MailState, Told, retry_after_min, unreachable_after_min},
    members::{AddressRefused, EmailAddress},
    reminders::{Reminder, ReminderState},
};
use jiff::{SignedDuration, Timestamp};
use store::{
    StoreError, Tx,
    outbox::{Outcome, Posted},
};

use super::letter;
use crate::{
    Worker,
    content::{Content, Envelope, Truth, truth},
    mail::{Partly, Refusal, SendError},
};

/// A relay that may have a mail already is given time to say so before a second copy goes out.
const UNCERTAIN_FOR: SignedDuration = SignedDuration::from_mins(15);
/// Up to this try all recipients of a mail wait for one whom the relay refuses for now: 21 minutes, time
/// enough for a relay that does so to every stranger once. Then the others get it.
const WAIT_FOR_ALL: i32 = 3;
/// A mail whose worker vanished so often is not taken up again once it is too old.
const VANISHED: i32 = 3;

/// How it went, for the round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Went {
    /// A relay took it.
    Taken,
    /// It is not sent; others may be.
    NotTaken,
    /// The relay cannot be used, for this mail or any other.
    NoRelay,
}

/// What became of a mail, and of the reminders that it carries.
struct Delivery {
    outcome: Outcome,
    told: Vec<Reminder>,
    untrue: Vec<Reminder>,
    said: Vec<(ReminderId, Told)>,
    /// The recipients that the relay refused.
    refused: Vec<Refusal>,
    went: Went,
}

impl Delivery {
    /// Nobody was told anything, and no relay was asked.
    fn none(outcome: Outcome) -> Self {
        let (told, untrue, said, refused) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        Self { outcome, told, untrue, said, refused, went: Went::NotTaken }
    }
}

/// Reminders, and where they stand from now on.
type Settled = (Vec<Reminder>, ReminderState);

impl Delivery {
    /// Where the reminders of the mail stand from now on; those that are not named stay as they are.
    ///
    /// Of a mail that is given up because of its age, see [`raise_again`]. Of one that a relay refused for
    /// good, or twice left in doubt, a person has to look: another would fare no better, or be a third copy.
    fn settles(self) -> Vec<Settled> {
        match self.outcome {
            Outcome::Sent(_) => {
                vec![(self.told, ReminderState::Sent), (self.untrue, ReminderState::Cancelled)]
            }
            Outcome::Cancelled(_) => vec![(self.untrue, ReminderState::Cancelled)],
            Outcome::Retry(..) | Outcome::Uncertain(..) | Outcome::Dead(_) => Vec::new(),
        }
    }
}

/// Delivers one mail and records what became of it.
pub(super) async fn deliver(worker: &Worker, posted: Posted) -> Result<Went, StoreError> {
    let Some(delivery) = attempt(worker, &posted).await? else {
        tracing::warn!(mail = %posted.mail.id, "the lease ran out; another worker has the mail");
        return Ok(Went::NotTaken);
    };
    if let Outcome::Dead(why) = &delivery.outcome {
        tracing::error!(mail = %posted.mail.id, why, "a mail cannot be delivered; look at it");
    }
    let (went, now) = (delivery.went, worker.now());
    worker.store.write(move |tx| finish(tx, &posted, delivery, now)).await?;
    Ok(went)
}

/// What becomes of a mail; nothing, if it is not ours any more.
async fn attempt(worker: &Worker, posted: &Posted) -> Result<Option<Delivery>, StoreError> {
    let (asked, now) = (posted.clone(), worker.now());
    let vanished = posted.mail.state == MailState::Sending && posted.mail.attempt > VANISHED;
    if vanished && posted.mail.is_given_up_at(now) {
        let why = given_up(posted, "each time the worker that had it ended without a word");
        return Ok(Some(Delivery::none(Outcome::Dead(why))));
    }
    match worker.store.read(move |read| truth(read, &asked, now)).await {
        Ok(None) => Ok(None),
        Ok(Some(Truth { say: Ok(_), quiet_until: Some(until), .. })) => {
            Ok(Some(Delivery::none(later(posted, until))))
        }
        Ok(Some(Truth { say: Ok((content, envelope)), told, untrue, said, .. })) => {
            let sent = send(worker, posted, &content, &envelope).await;
            Ok(Some(Delivery { told, untrue, said, ..sent }))
        }
        Ok(Some(Truth { say: Err(why), told, untrue, .. })) => {
            // Nobody was told, whatever is still true of it.
            let untrue = told.into_iter().chain(untrue).collect();
            let cancelled = Delivery::none(Outcome::Cancelled(why.to_owned()));
            Ok(Some(Delivery { untrue, ..cancelled }))
        }
        // A row that cannot be will not get better by waiting; a person has to look.
        Err(error @ (StoreError::Inconsistent { .. } | StoreError::NotFound { .. })) => {
            Ok(Some(Delivery::none(Outcome::Dead(error.to_string()))))
        }
        Err(error) => Err(error),
    }
}

/// Tried again at the end of its recipient's quiet hours.
fn later(posted: &Posted, until: Timestamp) -> Outcome {
    let why = "late, and its recipient has quiet hours".to_owned();
    match posted.mail.state {
        MailState::Uncertain | MailState::Sending => Outcome::Uncertain(until, why),
        _ => Outcome::Retry(until, why),
    }
}

/// Words a mail, hands it to the relay, and says what became of it.
async fn send(
    worker: &Worker,
    posted: &Posted,
    content: &Content,
    envelope: &Envelope,
) -> Delivery {
    let message = match letter::message(worker, posted, content, envelope) {
        Ok(message) => message,
        Err(why) => return Delivery::none(Outcome::Dead(why)),
    };
    // What is about safety waits for nobody.
    let waits = posted.mail.kind != MailKind::Stop && posted.mail.attempt <= WAIT_FOR_ALL;
    let partly = if waits { Partly::Wait } else { Partly::GoOn };
    let taken = worker.transport.send(&message, &posted.mail.id.to_string(), partly).await;
    let now = worker.now();
    let of = |outcome| Delivery::none(outcome);
    let usual = retry_after_min(posted.mail.attempt);
    match taken {
        Ok(receipt) => {
            let (refused, went) = (receipt.refused, Went::Taken);
            Delivery { refused, went, ..of(Outcome::Sent(receipt.answer)) }
        }
        Err(SendError::Dead(why)) => of(Outcome::Dead(why)),
        Err(SendError::Retry(why)) => of(again(posted, now, usual, why)),
        Err(SendError::Refused { words, recipients: refused }) => {
            let outcome = if refused.iter().all(|one| one.for_good) {
                Outcome::Dead(words)
            } else {
                again(posted, now, usual, words)
            };
            Delivery { refused, ..of(outcome) }
        }
        Err(SendError::Unreachable(why)) => {
            let outcome = again(posted, now, unreachable_after_min(posted.mail.attempt), why);
            Delivery { went: Went::NoRelay, ..of(outcome) }
        }
        Err(SendError::Uncertain(why)) => {
            Delivery { went: Went::NoRelay, ..of(uncertain(posted, now, why)) }
        }
    }
}

/// Tried again after a while, unless it is too late for that.
fn again(posted: &Posted, now: Timestamp, after_min: i64, why: String) -> Outcome {
    match now.checked_add(SignedDuration::from_mins(after_min)) {
        Ok(at) if !posted.mail.is_given_up_at(now) => match posted.mail.state {
            // A relay that refuses it now may have taken it then: nothing is added to such a mail.
            MailState::Uncertain | MailState::Sending => Outcome::Uncertain(at, why),
            _ => Outcome::Retry(at, why),
        },
        _ => Outcome::Dead(given_up(posted, &why)),
    }
}

/// Tried once more, as the relay may or may not have it.
fn uncertain(posted: &Posted, now: Timestamp, why: String) -> Outcome {
    match now.checked_add(UNCERTAIN_FOR) {
        Ok(at) if posted.mail.state != MailState::Uncertain => Outcome::Uncertain(at, why),
        _ => Outcome::Dead(format!("twice the relay did not say whether it took it: {why}")),
    }
}

fn given_up(posted: &Posted, why: &str) -> String {
    let (tries, wanted) = (posted.mail.attempt, posted.mail.wanted_at);
    let times = if tries == 1 { "time" } else { "times" };
    format!("given up: wanted at {wanted}, tried {tries} {times}; {why}")
}

fn finish(
    tx: &mut Tx<'_>,
    posted: &Posted,
    delivery: Delivery,
    now: Timestamp,
) -> Result<(), StoreError> {
    if !store::outbox::finish(tx, posted, &delivery.outcome, now)? {
        tracing::warn!(mail = %posted.mail.id, "the lease was lost; another worker has it");
        return Ok(());
    }
    mark_addresses(tx, posted, &delivery.refused, now)?;
    if matches!(delivery.outcome, Outcome::Sent(_) | Outcome::Uncertain(..)) {
        // Who may have read it may act on it.
        for (reminder, told) in &delivery.said {
            store::told::keep(tx, posted.club, *reminder, told)?;
        }
    }
    let dead = matches!(delivery.outcome, Outcome::Dead(_));
    if dead && posted.mail.is_given_up_at(now) {
        raise_again(tx, posted)?;
    }
    for (reminders, state) in delivery.settles() {
        for reminder in reminders {
            store::reminders::set_state(tx, posted.club, reminder.id, state)?;
        }
    }
    Ok(())
}

/// Lets what a mail was to say be raised again, in another, where it is still true: it was given up because
/// of its age, and nobody was told as far as is known.
fn raise_again(tx: &mut Tx<'_>, posted: &Posted) -> Result<(), StoreError> {
    for reminder in store::reminders::of_mail(tx, posted.club, posted.mail.id)? {
        if reminder.state == ReminderState::Raised {
            store::reminders::set_state(tx, posted.club, reminder.id, ReminderState::Cancelled)?;
        }
    }
    Ok(())
}

/// Remembers of a member that their address leads nowhere. A guardian's is named in the words alone.
fn mark_addresses(
    tx: &mut Tx<'_>,
    posted: &Posted,
    refused: &[Refusal],
    now: Timestamp,
) -> Result<(), StoreError> {
    for Refusal { address, answer, .. } in refused.iter().filter(|one| one.no_mailbox) {
        let Ok(address) = EmailAddress::parse(address) else { continue };
        let (member, refused) =
            (posted.mail.recipient, AddressRefused { at: now, answer: answer.clone() });
        if store::members::refuse_address(tx, posted.club, member, &address, &refused)? {
            tracing::warn!(%member, answer, "there is no mailbox at a member's address");
        }
    }
    Ok(())
}
