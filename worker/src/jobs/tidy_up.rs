//! Forgets what nobody needs any more: answers kept for requests that may come again, sign-ins that are
//! over, links that ran out. What is forgotten lets nobody in and shows nobody anything.

use jiff::{SignedDuration, Timestamp};
use store::{StoreError, Tx, links, requests, sign_ins};

use super::JobError;
use crate::Worker;

/// A client that sends a request again does so within days.
const ANSWERS_KEPT: SignedDuration = SignedDuration::from_hours(7 * 24);
/// Long enough to look into what somebody did not do themselves.
const ENDED_KEPT: SignedDuration = SignedDuration::from_hours(30 * 24);

/// Forgets it for every club; says how many rows that were.
pub(super) async fn run(worker: &Worker) -> Result<usize, JobError> {
    let now = worker.now();
    let ago = |kept| now.saturating_sub(kept).unwrap_or(Timestamp::MIN);
    let (answers, ended) = (ago(ANSWERS_KEPT), ago(ENDED_KEPT));
    let forgotten: Result<usize, StoreError> = worker
        .store
        .write(move |tx: &mut Tx<'_>| {
            Ok(requests::forget(tx, answers)?
                + sign_ins::forget(tx, ended)?
                + links::forget(tx, ended)?)
        })
        .await;
    Ok(forgotten?)
}
