//! The ledger's way in: single logs, batches, what was logged, and what of it is put right.

mod batch;
mod body;
mod correct;
mod duplicates;
mod list;
mod log;
mod merge;
mod read;
mod void;

pub(crate) use batch::log_batch;
pub(crate) use body::{LogShots, LoggedBody, ShotLogBody};
pub(crate) use correct::correct_log;
pub(crate) use duplicates::list_possible_duplicates;
pub(crate) use list::list_shot_logs;
pub(crate) use log::log_shots;
pub(crate) use merge::merge_log;
pub(crate) use read::get_log;
pub(crate) use void::void_log;
