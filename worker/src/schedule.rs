//! When rounds are run: once a minute. The only file that knows the scheduler.
//!
//! The scheduler is a tick and nothing more. What is due, for whom and at which local time stands
//! in rows, so a tick that is missed, late or doubled changes nothing.

use std::{sync::Arc, time::Duration};

use tokio::{sync::Mutex, time::Instant};
use tokio_cron_scheduler::{Job, JobScheduler, JobSchedulerError};
use tokio_util::{sync::CancellationToken, task::TaskTracker};

use crate::Worker;

/// Every minute, in UTC.
const EVERY_MINUTE: &str = "0 * * * * *";
/// How long a round under way may go on after the worker was told to stop.
const DRAIN: Duration = Duration::from_secs(10);
/// How often a round looks whether there is room for more of the mail that it had to hold back.
const LOOK_AGAIN: Duration = Duration::from_secs(5);
/// How long it does so; then it makes way for the next.
const CATCH_UP_FOR: Duration = Duration::from_secs(50);

/// Runs a round now and one every minute until `stop` is cancelled, then waits for the round under
/// way.
///
/// # Errors
/// When the scheduler cannot be started.
pub async fn run(worker: Worker, stop: CancellationToken) -> Result<(), JobSchedulerError> {
    let rounds = TaskTracker::new();
    let one_at_a_time = Arc::new(Mutex::new(worker));
    let round = {
        let rounds = rounds.clone();
        let stop = stop.clone();
        move || {
            let (one_at_a_time, stop) = (Arc::clone(&one_at_a_time), stop.clone());
            rounds.spawn(async move {
                // A tick that comes while a round is under way is dropped: the next one will do.
                if let (false, Ok(worker)) = (stop.is_cancelled(), one_at_a_time.try_lock()) {
                    worker.run_once().await;
                    catch_up(&worker, &stop).await;
                }
            })
        }
    };
    round();
    let mut scheduler = JobScheduler::new().await?;
    let tick = Job::new_async(EVERY_MINUTE, move |_id, _scheduler| {
        drop(round());
        Box::pin(async {})
    })?;
    scheduler.add(tick).await?;
    scheduler.start().await?;
    stop.cancelled().await;
    scheduler.shutdown().await?;
    rounds.close();
    if tokio::time::timeout(DRAIN, rounds.wait()).await.is_err() {
        tracing::warn!("a round did not end in time; what it had claimed is taken up again later");
    }
    Ok(())
}

/// Sends what a round held back, as the minute's room for mail comes free bit by bit.
async fn catch_up(worker: &Worker, stop: &CancellationToken) {
    let until = Instant::now() + CATCH_UP_FOR;
    while worker.is_held_back() && Instant::now() < until {
        if stop.run_until_cancelled(tokio::time::sleep(LOOK_AGAIN)).await.is_none() {
            return;
        }
        worker.catch_up().await;
    }
}
