//! The sweep: finds what came due since the last one, and what must not be shot, and writes the
//! reminders and their mail in one transaction.

use domain::{
    bows::Bow,
    clubs::Club,
    ids::BowId,
    mail::stop_key,
    reminders::{About, cycle, overdue_stage, stop_cycle, work_stage},
    rules::Condition,
};
use jiff::Timestamp;
use store::{Read, StoreError, due::Judged};

use super::JobError;
use crate::{
    Worker,
    raise::{Carrier, Subject, Wanted, raise_for_every_club},
    recipients::Recipients,
};

/// Sweeps every club; says how many reminders were raised.
pub(super) async fn run(worker: &Worker) -> Result<usize, JobError> {
    raise_for_every_club(worker, find).await
}

/// What the parts on bows ask for, and what must not be shot.
fn find(read: &mut Read<'_>, club: &Club, now: Timestamp) -> Result<Vec<Wanted>, StoreError> {
    let recipients = Recipients::of(read, club.id)?;
    let mut wanted = Vec::new();
    for judged in store::due::of_club(read, club, now)? {
        let Some(bow) = &judged.bow else { continue };
        wanted.extend(stops(&judged, bow, &recipients, now));
        wanted.extend(works(&judged, bow, &recipients, now));
    }
    tell_again(read, club, &mut wanted, now)?;
    wanted.extend(bow_stops(read, club, &recipients, now)?);
    Ok(wanted)
}

/// Overdue work that was told weeks ago is told again.
fn tell_again(
    read: &mut Read<'_>,
    club: &Club,
    wanted: &mut [Wanted],
    now: Timestamp,
) -> Result<(), StoreError> {
    let overdue = work_stage(Condition::Overdue);
    let mut overdue: Vec<&mut Wanted> =
        wanted.iter_mut().filter(|one| one.reminder.stage == overdue).collect();
    let keys: Vec<String> = overdue.iter().map(|one| one.reminder.dedupe_key.clone()).collect();
    let told = store::reminders::told_at(read, club.id, &keys)?;
    let day = |at| club.zone.date_of(at);
    for one in &mut overdue {
        if let Some(&at) = told.get(&one.reminder.dedupe_key) {
            one.reminder.enter(overdue_stage(day(at), day(now)));
        }
    }
    Ok(())
}

/// Who is to be told at once that a bow must not be shot, whatever hangs on it. The mail is that of the
/// parts that were stopped by the same; who was told of those before needs no other.
fn bow_stops(
    read: &mut Read<'_>,
    club: &Club,
    recipients: &Recipients,
    now: Timestamp,
) -> Result<Vec<Wanted>, StoreError> {
    let stopped = store::bow_stops::of_club(read, club.id)?;
    let ids: Vec<BowId> = stopped.keys().copied().collect();
    let bows = store::bows::some(read, club.id, &ids)?;
    let told = store::reminders::stops_told(read, club.id, &ids)?;
    let mut wanted = Vec::new();
    for (id, stop) in stopped {
        let Some(bow) = bows.get(&id) else { continue };
        let subject = Subject {
            about: About::BowStop { bow: id },
            cycle: stop_cycle(stop.stop),
            stage: work_stage(Condition::DoNotShoot),
            reason: stop.reason(&club.zone),
        };
        let mut people = recipients.of_stop(bow);
        people.retain(|person| !told.contains(&(id, subject.cycle.clone(), *person)));
        let key = |recipient| stop_key(recipient, id, &subject.cycle);
        wanted.extend(subject.to_each(&people, now, |to| Carrier::AtOnce { key: key(to) }));
    }
    Ok(wanted)
}

/// What people are to be told of a part by its rules.
fn works(judged: &Judged, bow: &Bow, recipients: &Recipients, now: Timestamp) -> Vec<Wanted> {
    let by_count =
        |condition| matches!(condition, Condition::Nearing | Condition::Due | Condition::Overdue);
    let mut wanted = Vec::new();
    for verdict in judged.assessment.verdicts.iter().filter(|one| by_count(one.condition)) {
        let Some(reading) = judged.record.reading(verdict.task.clock()) else { continue };
        let (rule, task, part) = (verdict.rule_id, verdict.task, judged.record.part.id);
        let subject = Subject {
            about: About::Work { rule, task, part, bow: bow.id },
            cycle: cycle(reading),
            stage: work_stage(verdict.condition),
            reason: verdict.reason.clone(),
        };
        let people = recipients.of_work(bow, verdict.condition);
        wanted.extend(subject.to_each(&people, now, |_| Carrier::Digest));
    }
    wanted
}

/// Who is to be told at once that a part must not be shot.
fn stops(judged: &Judged, bow: &Bow, recipients: &Recipients, now: Timestamp) -> Vec<Wanted> {
    let Some(stop) = judged.record.stop else { return Vec::new() };
    let subject = Subject {
        about: About::Stop { part: judged.record.part.id, bow: bow.id },
        cycle: stop_cycle(stop),
        stage: work_stage(Condition::DoNotShoot),
        reason: judged.assessment.reason.clone(),
    };
    let people = recipients.of_stop(bow);
    let key = |recipient| stop_key(recipient, bow.id, &subject.cycle);
    subject.to_each(&people, now, |recipient| Carrier::AtOnce { key: key(recipient) })
}
