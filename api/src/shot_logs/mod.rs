//! The ledger's way in: single logs, batches, and what was logged.

mod batch;
mod body;
mod list;
mod log;

pub(crate) use batch::log_batch;
pub(crate) use body::{LogShots, LoggedBody, ShotLogBody};
pub(crate) use list::list_shot_logs;
pub(crate) use log::log_shots;
