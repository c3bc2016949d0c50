//! Workers that are killed or stopped at any moment, many times: what is promised of mail holds all the
//! same. The moments are drawn from a seed that is printed.
//!
//! `TAUTLINE_TEST_KILLS` (40) says how many workers are killed while they send
//! `TAUTLINE_TEST_MAILS` (200) mails, `TAUTLINE_TEST_SWEEP_KILLS` (20) how many while they look for
//! what came due; `TAUTLINE_TEST_SEED` (1) says when.

mod chance;
mod delivery;
mod paused;
mod scene;
mod sweep;

pub(crate) use scene::{club_with_mail_due, machine_now, start, start_work};
