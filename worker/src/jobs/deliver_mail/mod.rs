//! Sends what is to be sent by now. A mail is claimed, then sent with no transaction open, then
//! finished; what it says is held against the ledger once more just before.
//!
//! A round sends no more in a minute than was set, and stops at once where the relay cannot be used: a
//! dead relay is asked by a few mails a round, not by all of them.

mod attempt;
mod letter;

use std::sync::atomic::Ordering;

use store::{
    StoreError,
    outbox::{Claimed, Pace, Posted},
};
use tokio::task::JoinSet;

use self::attempt::{Went, deliver};
use super::JobError;
use crate::{
    Worker,
    mail::{self, Transport},
};

/// Mails claimed at once: as many as are sent at once, so that none waits while its lease runs.
const AT_ONCE: u32 = mail::AT_ONCE;

/// Sends every mail whose time has come and for which there is room; says how many a relay took.
pub(crate) async fn run(worker: &Worker) -> Result<usize, JobError> {
    let mut sent = 0;
    worker.held_back.store(false, Ordering::Relaxed);
    loop {
        let Claimed { mails, left } = claim(worker).await?;
        if mails.is_empty() {
            worker.held_back.store(left == 0, Ordering::Relaxed);
            return Ok(sent);
        }
        let (taken, relay_answers) = deliver_all(worker, mails).await?;
        sent += taken;
        if !relay_answers {
            return Ok(sent);
        }
    }
}

async fn claim(worker: &Worker) -> Result<Claimed, StoreError> {
    let (now, lease) = (worker.now(), worker.sending.lease);
    let per_minute = match *worker.transport {
        Transport::Smtp(_) => worker.sending.per_minute,
        // A folder is nobody whom too much mail at a time would trouble.
        Transport::Files(_) => u32::MAX,
    };
    let pace = Pace { at_once: AT_ONCE, per_minute };
    worker.store.write(move |tx| store::outbox::claim(tx, now, lease, pace)).await
}

/// Delivers these at once; how many a relay took, and whether it can be used for more.
async fn deliver_all(worker: &Worker, mails: Vec<Posted>) -> Result<(usize, bool), StoreError> {
    let mut under_way = JoinSet::new();
    for posted in mails {
        let worker = worker.clone();
        under_way.spawn(async move { deliver(&worker, posted).await });
    }
    // All of them come to their end, whatever became of one: a talk with a relay that is cut off
    // half-way leaves behind a mail of which nobody knows whether it arrived.
    let (mut taken, mut relay_answers, mut failed) = (0, true, None);
    while let Some(delivered) = under_way.join_next().await {
        match delivered {
            Ok(Ok(went)) => {
                taken += usize::from(went == Went::Taken);
                relay_answers &= went != Went::NoRelay;
            }
            Ok(Err(error)) => failed = Some(error),
            Err(panic) => tracing::error!(%panic, "a delivery panicked; its lease runs out"),
        }
    }
    match failed {
        Some(error) => Err(error),
        None => Ok((taken, relay_answers)),
    }
}
