//! The sweep: finds what came due, and writes the reminders and their mail in one transaction.

use std::collections::BTreeMap;

use domain::{
    bows::Bow,
    clubs::Club,
    ids::{ClubId, MailId, MemberId, ReminderId},
    mail::{Mail, MailKind, MailState, digest_key},
    members::{Member, Role},
    reminders::{About, Reminder, ReminderState, cycle, work_stage},
    rules::Condition,
    time::Zone,
};
use jiff::Timestamp;
use store::{Read, StoreError, Tx, due::Judged, fresh_id};

use super::JobError;
use crate::Worker;

/// Sweeps every club; says how many reminders were raised.
pub(super) async fn run(worker: &Worker) -> Result<usize, JobError> {
    let clubs = worker.store.read(store::clubs::ids).await?;
    let (mut raised, mut failed) = (0, None);
    for club in clubs {
        // A club that cannot be swept is reported, and does not keep the others from their mail.
        match sweep(worker, club).await {
            Ok(fresh) => raised += fresh,
            Err(error) => failed = Some(error),
        }
    }
    failed.map_or(Ok(raised), Err)
}

type Members = BTreeMap<MemberId, Member>;

async fn sweep(worker: &Worker, club: ClubId) -> Result<usize, JobError> {
    let now = worker.now();
    let (club, members, fresh) = worker.store.read(move |read| find(read, club, now)).await?;
    if fresh.is_empty() {
        return Ok(0);
    }
    let raise = move |tx: &mut Tx<'_>| {
        let mut mails: BTreeMap<MemberId, MailId> = BTreeMap::new();
        let mut raised = 0;
        for mut reminder in fresh {
            let recipient = reminder.recipient;
            reminder.mail_id = if let Some(mail) = mails.get(&recipient) {
                *mail
            } else {
                let own_zone = members.get(&recipient).and_then(|member| member.zone.as_ref());
                let zone = own_zone.unwrap_or(&club.zone);
                let mail = next_digest(tx, &club, recipient, zone, now)?.id;
                mails.insert(recipient, mail);
                mail
            };
            raised += usize::from(store::reminders::raise(tx, club.id, &reminder)?);
        }
        Ok::<_, JobError>(raised)
    };
    worker.store.write(raise).await
}

/// The club, its people, and every reminder that has not been raised in its cycle and stage.
fn find(
    read: &mut Read<'_>,
    club: ClubId,
    now: Timestamp,
) -> Result<(Club, Members, Vec<Reminder>), StoreError> {
    let club = store::clubs::get(read, club)?;
    let members: Members =
        store::members::all(read, club.id)?.into_iter().map(|one| (one.id, one)).collect();
    let judged = store::due::of_club(read, &club, now)?;
    let mut wanted = wanted(&judged, &members, now);
    let keys: Vec<String> = wanted.iter().map(|one| one.dedupe_key.clone()).collect();
    let raised_before = store::reminders::raised(read, club.id, &keys)?;
    wanted.retain(|reminder| !raised_before.contains(&reminder.dedupe_key));
    Ok((club, members, wanted))
}

/// Every reminder that would be right to have now.
fn wanted(judged: &[Judged], members: &Members, now: Timestamp) -> Vec<Reminder> {
    let mut wanted = Vec::new();
    for judged in judged {
        let Some(bow) = &judged.bow else { continue };
        for recipient in recipients(bow, members) {
            wanted.extend(reminders(judged, bow, recipient, now));
        }
    }
    wanted
}

/// Who is told: the bow's carers, or the club's owners where it has none.
fn recipients(bow: &Bow, members: &Members) -> Vec<MemberId> {
    let carers = bow.carers();
    if !carers.is_empty() {
        return carers;
    }
    members.values().filter(|one| one.role == Role::Owner).map(|owner| owner.id).collect()
}

/// What a person is to be told of a part. The mail is settled when it is known which one it is.
fn reminders<'a>(
    judged: &'a Judged,
    bow: &'a Bow,
    recipient: MemberId,
    now: Timestamp,
) -> impl Iterator<Item = Reminder> + 'a {
    let (part, verdicts) = (&judged.record.part, &judged.assessment.verdicts);
    let by_count =
        |condition| matches!(condition, Condition::Nearing | Condition::Due | Condition::Overdue);
    verdicts.iter().filter(move |verdict| by_count(verdict.condition)).filter_map(move |verdict| {
        let cycle = cycle(judged.record.reading(verdict.task.clock())?);
        let (rule, task, stage) = (verdict.rule_id, verdict.task, work_stage(verdict.condition));
        let about = About::Work { rule, task, part: part.id, bow: bow.id };
        Some(Reminder {
            id: fresh_id::<ReminderId>(now),
            about,
            recipient,
            reason: verdict.reason.clone(),
            dedupe_key: about.dedupe_key(&cycle, recipient, &stage),
            stage,
            cycle,
            state: ReminderState::Raised,
            raised_at: now,
            mail_id: MailId(uuid::Uuid::nil()),
        })
    })
}

/// The recipient's next digest that has not gone out yet, written if it is not there. Where a
/// clock was set back the next one may have gone already; then it is the one after.
fn next_digest(
    tx: &mut Tx<'_>,
    club: &Club,
    recipient: MemberId,
    zone: &Zone,
    now: Timestamp,
) -> Result<Mail, JobError> {
    let mut not_before = now;
    loop {
        let (due_at, for_date) = zone.next(club.digest_at, not_before)?;
        let (id, key) = (fresh_id::<MailId>(now), digest_key(recipient, for_date));
        let mail = Mail::new(id, MailKind::Digest, recipient, (due_at, for_date), key);
        let there = store::outbox::post(tx, club.id, &mail, now)?;
        if there.state == MailState::Due {
            return Ok(there);
        }
        not_before = due_at;
    }
}
