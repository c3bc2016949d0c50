//! The jobs of a round. A job takes no input, finds its work in the database, and may run twice or
//! in several workers at once without doing anything twice.

mod ask_for_logs;
mod check_events;
mod check_maintenance;
pub(crate) mod deliver_mail;
mod list_bench_work;
mod tidy_up;

use std::{future::Future, pin::Pin};

use domain::time::TimeError;
use store::StoreError;

use crate::Worker;

/// Why a job could not do its work; the next round tries again.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// The database.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A local time that does not exist.
    #[error(transparent)]
    Time(#[from] TimeError),
}

/// What running a job comes to: how many things it did.
pub(crate) type Running<'w> = Pin<Box<dyn Future<Output = Result<usize, JobError>> + Send + 'w>>;

/// A job.
pub(crate) struct Job {
    /// What it is called in the log.
    pub(crate) name: &'static str,
    /// Does its work.
    pub(crate) run: for<'w> fn(&'w Worker) -> Running<'w>,
}

/// Every job, in the order of a round: what is found to be due is then mailed, if it is time.
pub(crate) const ALL: &[Job] = &[
    Job { name: "check_maintenance", run: |worker| Box::pin(check_maintenance::run(worker)) },
    Job { name: "check_events", run: |worker| Box::pin(check_events::run(worker)) },
    Job { name: "list_bench_work", run: |worker| Box::pin(list_bench_work::run(worker)) },
    Job { name: "ask_for_logs", run: |worker| Box::pin(ask_for_logs::run(worker)) },
    Job { name: "deliver_mail", run: |worker| Box::pin(deliver_mail::run(worker)) },
    Job { name: "tidy_up", run: |worker| Box::pin(tidy_up::run(worker)) },
];
