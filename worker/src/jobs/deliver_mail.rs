//! Sends what is to be sent by now. A mail is claimed, then sent with no transaction open, then
//! finished; what it says is held against the ledger once more just before.

use std::collections::BTreeSet;

use domain::{
    clubs::Club,
    ids::MemberId,
    mail::{Digest, DigestLine, MailState, retry_after_min},
    members::{Member, Role},
    reminders::{About, Reminder, ReminderState},
};
use jiff::{SignedDuration, Timestamp};
use store::{
    Read, StoreError, Tx,
    outbox::{Outcome, Posted},
};
use tokio::task::JoinSet;

use super::JobError;
use crate::{
    Worker,
    mail::{self, SendError, digest, message},
};

/// Mails claimed at once: as many as are sent at once, so that none waits while its lease runs.
const AT_ONCE: u32 = mail::AT_ONCE;
/// A relay that may have a mail already is given time to say so before a second copy goes out.
const UNCERTAIN_FOR: SignedDuration = SignedDuration::from_mins(15);

/// Sends every mail whose time has come; says how many a relay took.
pub(super) async fn run(worker: &Worker) -> Result<usize, JobError> {
    let mut sent = 0;
    loop {
        let (now, lease) = (worker.now(), worker.sending.lease);
        let claimed: Vec<Posted> = worker
            .store
            .write(move |tx| store::outbox::claim(tx, now, lease, AT_ONCE))
            .await
            .map_err(|error: StoreError| JobError::from(error))?;
        if claimed.is_empty() {
            return Ok(sent);
        }
        let mut under_way = JoinSet::new();
        for posted in claimed {
            let worker = worker.clone();
            under_way.spawn(async move { deliver(&worker, posted).await });
        }
        // All of them come to their end, whatever became of one: a talk with a relay that is cut
        // off half-way leaves behind a mail of which nobody knows whether it arrived.
        let mut failed = None;
        while let Some(delivered) = under_way.join_next().await {
            match delivered {
                Ok(Ok(taken)) => sent += usize::from(taken),
                Ok(Err(error)) => failed = Some(error),
                Err(panic) => tracing::error!(%panic, "a delivery panicked; its lease runs out"),
            }
        }
        if let Some(error) = failed {
            return Err(error.into());
        }
    }
}

/// What became of a mail, and of the reminders that it carries.
struct Delivery {
    outcome: Outcome,
    told: Vec<Reminder>,
    untrue: Vec<Reminder>,
}

impl Delivery {
    /// Nobody was told anything.
    fn none(outcome: Outcome) -> Self {
        Self { outcome, told: Vec::new(), untrue: Vec::new() }
    }
}

/// Delivers one mail and records what became of it; says whether a relay took it.
async fn deliver(worker: &Worker, posted: Posted) -> Result<bool, StoreError> {
    let Some(delivery) = attempt(worker, &posted).await? else {
        tracing::warn!(mail = %posted.mail.id, "the lease ran out; another worker has the mail");
        return Ok(false);
    };
    if let Outcome::Dead(why) = &delivery.outcome {
        tracing::error!(mail = %posted.mail.id, why, "a mail cannot be delivered; look at it");
    }
    let (taken, now) = (matches!(delivery.outcome, Outcome::Sent(_)), worker.now());
    worker.store.write(move |tx| finish(tx, &posted, delivery, now)).await?;
    Ok(taken)
}

/// What becomes of a mail; nothing, if it is not ours any more.
async fn attempt(worker: &Worker, posted: &Posted) -> Result<Option<Delivery>, StoreError> {
    if retry_after_min(posted.mail.attempt).is_none() {
        let why = format!("given up after {} tries", posted.mail.attempt);
        return Ok(Some(Delivery::none(Outcome::Dead(why))));
    }
    let (asked, now) = (posted.clone(), worker.now());
    match worker.store.read(move |read| truth(read, &asked, now)).await {
        Ok(None) => Ok(None),
        Ok(Some(Truth { digest: Some(digest), told, untrue })) => {
            let outcome = send(worker, posted, &digest).await;
            Ok(Some(Delivery { outcome, told, untrue }))
        }
        Ok(Some(Truth { digest: None, told, untrue })) => {
            let why = "nothing that it was to say is true any more".to_owned();
            Ok(Some(Delivery { outcome: Outcome::Cancelled(why), told, untrue }))
        }
        // A row that cannot be will not get better by waiting; a person has to look.
        Err(error @ (StoreError::Inconsistent { .. } | StoreError::NotFound { .. })) => {
            Ok(Some(Delivery::none(Outcome::Dead(error.to_string()))))
        }
        Err(error) => Err(error),
    }
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
    if !matches!(delivery.outcome, Outcome::Sent(_) | Outcome::Cancelled(_)) {
        return Ok(());
    }
    let states =
        [(delivery.told, ReminderState::Sent), (delivery.untrue, ReminderState::Cancelled)];
    for (reminders, state) in states {
        for reminder in reminders {
            store::reminders::set_state(tx, posted.club, reminder.id, state)?;
        }
    }
    Ok(())
}

/// What is left of a mail's reasons.
struct Truth {
    /// What there is to say, if anything.
    digest: Option<Digest>,
    told: Vec<Reminder>,
    untrue: Vec<Reminder>,
}

/// What a claimed mail has to say by now; nothing is returned if it is claimed by another.
fn truth(
    read: &mut Read<'_>,
    posted: &Posted,
    now: Timestamp,
) -> Result<Option<Truth>, StoreError> {
    if !store::outbox::still_claimed(read, posted)? {
        return Ok(None);
    }
    let club = store::clubs::get(read, posted.club)?;
    let recipient = store::members::get(read, posted.club, posted.mail.recipient)?;
    let reminders = store::reminders::of_mail(read, posted.club, posted.mail.id)?;
    let (mut lines, mut said) = (Vec::new(), BTreeSet::new());
    let (mut told, mut untrue) = (Vec::new(), Vec::new());
    for reminder in reminders {
        let Some(line) = line(read, &club, &recipient, &reminder, now)? else {
            untrue.push(reminder);
            continue;
        };
        // Two stages of one piece of work in one mail are one line, as it stands now.
        let work = match reminder.about {
            About::Work { rule, part, .. } => Some((part, rule)),
            _ => None,
        };
        if said.insert(work) {
            lines.push(line);
        }
        told.push(reminder);
    }
    lines.sort_by(|a, b| (a.condition, &a.bow.name).cmp(&(b.condition, &b.bow.name)));
    let digest = Digest {
        club: club.name,
        recipient: recipient.name,
        address: recipient.email,
        on: posted.mail.for_date,
        lines,
    };
    let digest = Some(digest).filter(|digest| !digest.lines.is_empty());
    Ok(Some(Truth { digest, told, untrue }))
}

/// What a reminder comes to now: nothing, if its work was done, its part taken off, or its bow
/// passed to somebody else.
fn line(
    read: &mut Read<'_>,
    club: &Club,
    recipient: &Member,
    reminder: &Reminder,
    now: Timestamp,
) -> Result<Option<DigestLine>, StoreError> {
    let Some(part) = reminder.about.part() else { return Ok(None) };
    let judged = store::due::of_parts(read, club, &[part], now)?.pop();
    let Some((judged, bow)) = judged.and_then(|one| one.bow.clone().map(|bow| (one, bow))) else {
        return Ok(None);
    };
    let carers = bow.carers();
    let concerned =
        carers.contains(&recipient.id) || (carers.is_empty() && recipient.role == Role::Owner);
    let verdict = reminder.still_true(&judged.record, &judged.assessment).filter(|_| concerned);
    let Some(verdict) = verdict else { return Ok(None) };
    let archer = |id: MemberId| store::members::get(read, club.id, id).map(|member| member.name);
    Ok(Some(DigestLine {
        archer: bow.archer.map(archer).transpose()?,
        part_kind: judged.record.part.kind,
        part: judged.record.part.name.clone(),
        task: verdict.task,
        condition: verdict.condition,
        reason: verdict.reason.clone(),
        bow,
    }))
}

/// Words a digest, hands it to the relay, and says what became of it.
async fn send(worker: &Worker, posted: &Posted, digest: &Digest) -> Outcome {
    let letter = match digest::render(digest, &worker.sending.base_url) {
        Ok(letter) => letter,
        Err(error) => return Outcome::Dead(error.to_string()),
    };
    let head = message::Head {
        id: posted.mail.id,
        from_name: digest.club.as_str(),
        from: &worker.sending.from,
        to_name: digest.recipient.as_str(),
        to: &digest.address,
        date: posted.mail.due_at,
    };
    let message = match message::build(&letter, &head) {
        Ok(message) => message,
        Err(error) => return Outcome::Dead(error.to_string()),
    };
    let taken = worker.transport.send(&message, &posted.mail.id.to_string()).await;
    let now = worker.now();
    match taken {
        Ok(receipt) => Outcome::Sent(receipt.answer),
        Err(SendError::Dead(why)) => Outcome::Dead(why),
        Err(SendError::Retry(why)) => {
            let again = retry_after_min(posted.mail.attempt).map(SignedDuration::from_mins);
            match again.and_then(|pause| now.checked_add(pause).ok()) {
                Some(at) => Outcome::Retry(at, why),
                None => {
                    Outcome::Dead(format!("given up after {} tries: {why}", posted.mail.attempt))
                }
            }
        }
        Err(SendError::Uncertain(why)) => match now.checked_add(UNCERTAIN_FOR) {
            Ok(at) if posted.mail.state != MailState::Uncertain => Outcome::Uncertain(at, why),
            _ => Outcome::Dead(format!("twice the relay did not say whether it took it: {why}")),
        },
    }
}
