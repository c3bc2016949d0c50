//! The weekly list for the bench: on Mondays, what strings are to be made and what servings wound in the
//! weeks ahead, to the keepers and coaches of those bows.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    clubs::Club,
    ids::MemberId,
    mail::{MailKind, dated_key},
    reminders::About,
};
use jiff::{Timestamp, civil::Weekday};
use store::{Read, StoreError};

use super::JobError;
use crate::{
    Worker, bench,
    raise::{Carrier, Subject, Wanted, raise_for_every_club},
    recipients::Recipients,
};

/// The day of the week on which the list goes out: what is on it can be made before the weekend. Common
/// practice, no source.
const ON: Weekday = Weekday::Monday;

/// Lists the bench work of every club; says how many reminders were raised.
pub(super) async fn run(worker: &Worker) -> Result<usize, JobError> {
    raise_for_every_club(worker, find).await
}

fn find(read: &mut Read<'_>, club: &Club, now: Timestamp) -> Result<Vec<Wanted>, StoreError> {
    let today = club.zone.date_of(now);
    if today.weekday() != ON {
        return Ok(Vec::new());
    }
    let recipients = Recipients::of(read, club.id)?;
    let mut counts: BTreeMap<MemberId, usize> = BTreeMap::new();
    for job in bench::jobs(read, club, now)? {
        for person in recipients.of_bench(&job.bow) {
            *counts.entry(person).or_default() += 1;
        }
    }
    let wanted = counts.into_iter().flat_map(|(person, count)| {
        let subject = Subject {
            about: About::Bench,
            cycle: today.to_string(),
            stage: "weekly".to_owned(),
            reason: format!("jobs for the bench in the weeks ahead: {count}"),
        };
        subject.to_each(&BTreeSet::from([person]), now, |to| Carrier::Apart {
            kind: MailKind::Bench,
            key: dated_key(MailKind::Bench, to, today),
            before: None,
        })
    });
    Ok(wanted.collect())
}
