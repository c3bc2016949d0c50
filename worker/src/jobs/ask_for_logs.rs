//! Asks an archer about a bow that was logged regularly and then was not: once for each such gap, if the
//! club wants that. Minors are not asked: nothing is to draw a child back to a program.

use std::collections::BTreeSet;

use domain::{clubs::Club, ids::BowId, mail::MailKind, reminders::About};
use jiff::Timestamp;
use store::{Read, StoreError};

use super::JobError;
use crate::{
    Worker,
    raise::{Carrier, Subject, Wanted, raise_for_every_club},
    silence::{self, Silent},
};

/// Asks in every club that wants it; says how many reminders were raised.
pub(super) async fn run(worker: &Worker) -> Result<usize, JobError> {
    raise_for_every_club(worker, find).await
}

fn find(read: &mut Read<'_>, club: &Club, now: Timestamp) -> Result<Vec<Wanted>, StoreError> {
    let silent = silence::of_club(read, club, now)?;
    Ok(silent.into_iter().flat_map(|silent| ask(&silent, now)).collect())
}

fn ask(silent: &Silent, now: Timestamp) -> Vec<Wanted> {
    let bow: BowId = silent.bow.id;
    let subject = Subject {
        about: About::Silence { bow },
        cycle: silent.last_on.to_string(),
        stage: "asked".to_owned(),
        reason: format!("nothing logged since {}", silent.last_on),
    };
    subject.to_each(&BTreeSet::from([silent.archer]), now, |to| Carrier::Apart {
        kind: MailKind::Nudge,
        key: format!("{}|{bow}|{}|{to}", MailKind::Nudge, silent.last_on),
        before: None,
    })
}
