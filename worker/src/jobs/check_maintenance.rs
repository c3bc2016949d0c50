//! The sweep: finds what came due since the last one, and what must not be shot, and writes the
//! reminders and their mail in one transaction.

use domain::{
    bows::Bow,
    clubs::Club,
    mail::stop_key,
    reminders::{About, cycle, stop_cycle, work_stage},
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
