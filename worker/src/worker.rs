//! What every job is handed, and one round of all of them.

use std::sync::{
    Arc,
    atomic::{AtomicBool, Ordering},
};

use domain::{members::EmailAddress, time::Clock};
use jiff::{SignedDuration, Timestamp};
use store::{Store, seals::Seals};

use crate::{jobs, mail::Transport};

/// How and as whom mail is sent.
#[derive(Debug, Clone)]
pub struct Sending {
    /// The address mail comes from.
    pub from: EmailAddress,
    /// Where the program is to be found; the only source of links.
    pub base_url: String,
    /// How long a worker may take over a mail before another takes it up.
    pub lease: SignedDuration,
    /// How many mails all workers together may hand to the relay in any 60 s.
    pub per_minute: u32,
    /// What the links in mails are sealed with; the server opens them with the same.
    pub seals: Seals,
}

/// A worker. Any number may run against one database. Cheap to clone.
#[derive(Clone)]
pub struct Worker {
    pub(crate) store: Store,
    pub(crate) clock: Arc<dyn Clock>,
    pub(crate) transport: Arc<Transport>,
    pub(crate) sending: Arc<Sending>,
    /// Whether mail waits only because enough went out in the last minute.
    pub(crate) held_back: Arc<AtomicBool>,
}

/// What one job did in a round.
#[derive(Debug)]
pub struct Done {
    /// Which job.
    pub job: &'static str,
    /// How many things it did, or why it could not; it is tried again in the next round.
    pub outcome: Result<usize, jobs::JobError>,
}

impl Worker {
    /// A worker over a store.
    #[must_use]
    pub fn new(
        store: Store,
        clock: Arc<dyn Clock>,
        transport: Transport,
        sending: Sending,
    ) -> Self {
        let (transport, sending) = (Arc::new(transport), Arc::new(sending));
        Self { store, clock, transport, sending, held_back: Arc::default() }
    }

    /// The present moment.
    pub(crate) fn now(&self) -> Timestamp {
        domain::time::to_microseconds(self.clock.now())
    }

    /// Runs every job once, in order. A job that fails does not keep the next from running.
    pub async fn run_once(&self) -> Vec<Done> {
        let mut round = Vec::with_capacity(jobs::ALL.len());
        for job in jobs::ALL {
            let outcome = (job.run)(self).await;
            match &outcome {
                Ok(0) => {}
                Ok(count) => tracing::info!(job = job.name, count, "done"),
                Err(error) => tracing::warn!(job = job.name, %error, "failed; next round again"),
            }
            round.push(Done { job: job.name, outcome });
        }
        round
    }

    /// Sends more of the mail that was held back.
    pub(crate) async fn catch_up(&self) {
        match jobs::deliver_mail::run(self).await {
            Ok(count) => tracing::debug!(count, "more mail"),
            Err(error) => tracing::warn!(%error, "more mail could not be sent; next round again"),
        }
    }

    /// Whether mail waits only because enough went out in the last minute.
    pub(crate) fn is_held_back(&self) -> bool {
        self.held_back.load(Ordering::Relaxed)
    }
}
