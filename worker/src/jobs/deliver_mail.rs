//! Sends what is to be sent by now. A mail is claimed, then sent with no transaction open, then
//! finished; what it says is held against the ledger once more just before.

use domain::{
    ids::ReminderId,
    mail::{ActLink, MailState, QuietLink, Told, retry_after_min},
    reminders::{Reminder, ReminderState},
};
use jiff::{SignedDuration, Timestamp};
use store::{
    StoreError, Tx,
    mail_links::{seal_act, seal_quiet},
    outbox::{Outcome, Posted},
};
use tokio::task::JoinSet;

use super::JobError;
use crate::{
    Worker,
    content::{Content, Envelope, Truth, truth},
    mail::{self, Letter, Links, RenderError, SealAct, SendError, message},
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
    said: Vec<(ReminderId, Told)>,
}

impl Delivery {
    /// Nobody was told anything.
    fn none(outcome: Outcome) -> Self {
        Self { outcome, told: Vec::new(), untrue: Vec::new(), said: Vec::new() }
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
        Ok(Some(Truth { say: Ok((content, envelope)), told, untrue, said })) => {
            let outcome = send(worker, posted, &content, &envelope).await;
            Ok(Some(Delivery { outcome, told, untrue, said }))
        }
        Ok(Some(Truth { say: Err(why), told, untrue, said: _ })) => {
            // Nobody was told, whatever is still true of it.
            let untrue = told.into_iter().chain(untrue).collect();
            let outcome = Outcome::Cancelled(why.to_owned());
            Ok(Some(Delivery { untrue, ..Delivery::none(outcome) }))
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
    if matches!(delivery.outcome, Outcome::Sent(_)) {
        for (reminder, told) in delivery.said {
            store::told::keep(tx, posted.club, reminder, &told)?;
        }
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

/// Where the links of a mail lead.
fn links<'w>(
    worker: &'w Worker,
    posted: &Posted,
    act: SealAct<'w>,
) -> Result<Links<'w>, RenderError> {
    let (member, kind) = (posted.mail.recipient, posted.mail.kind);
    let link = kind.stoppable().then_some(QuietLink { member, kind });
    let quiet = link.map(|link| seal_quiet(&worker.sending.seals, posted.club, &link));
    Ok(Links::below(&worker.sending.base_url)?.with_answers(act).with_quiet(quiet))
}

/// Words a mail.
fn write(
    worker: &Worker,
    posted: &Posted,
    content: &Content,
    links: &Links<'_>,
) -> Result<Letter, RenderError> {
    let sealed = |link| store::links::seal(&worker.sending.seals, posted.club, &link);
    match content {
        Content::Digest(digest) => mail::digest::render(digest, links),
        Content::Stop(notice) => mail::stop::render(notice, links),
        Content::Event(notice) => mail::event::render(notice, links),
        Content::Moved(notice) => mail::moved::render(notice, links),
        Content::Bench(list) => mail::bench::render(list, links),
        Content::Nudge(notice) => mail::nudge::render(notice, links),
        Content::Invitation(notice) => {
            mail::invitation::render(notice, &sealed(notice.link), links)
        }
        Content::Reset(notice) => mail::reset::render(notice, &sealed(notice.link), links),
    }
}

/// The days that a mail speaks of, if it speaks of any.
fn calendar(worker: &Worker, content: &Content) -> Option<mail::calendar::Part> {
    let (from, base_url) = (&worker.sending.from, worker.sending.base_url.as_str());
    let sender = mail::calendar::Sender { from, base_url };
    match content {
        Content::Digest(digest) => mail::calendar::of_digest(digest, &sender),
        Content::Event(notice) => mail::calendar::of_event(notice, &sender),
        Content::Moved(notice) => mail::calendar::of_moved(notice, &sender),
        Content::Stop(_)
        | Content::Bench(_)
        | Content::Nudge(_)
        | Content::Invitation(_)
        | Content::Reset(_) => None,
    }
}

/// Words a mail, hands it to the relay, and says what became of it.
async fn send(worker: &Worker, posted: &Posted, content: &Content, envelope: &Envelope) -> Outcome {
    let act = |reminder, act| {
        let link = ActLink::new(reminder, act, posted.mail.wanted_at);
        seal_act(&worker.sending.seals, posted.club, &link)
    };
    let links = match links(worker, posted, &act) {
        Ok(links) => links,
        Err(error) => return Outcome::Dead(error.to_string()),
    };
    let letter = match write(worker, posted, content, &links) {
        Ok(letter) => letter,
        Err(error) => return Outcome::Dead(error.to_string()),
    };
    let head = message::Head {
        id: posted.mail.id,
        from_name: envelope.from_name.as_str(),
        from: &worker.sending.from,
        to_name: envelope.to.0.as_str(),
        to: &envelope.to.1,
        copy: envelope.copy.as_ref().map(|(name, address)| (name.as_str(), address)),
        date: posted.mail.wanted_at,
        quiet: links.quiet(),
        first: envelope.first,
    };
    let calendar = calendar(worker, content);
    let message = match message::build(&letter, calendar.as_ref(), &head) {
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
