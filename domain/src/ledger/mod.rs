//! The ledger: what was shot, with which bow, when; and what that makes for every part.
//!
//! Entries are appended. Wear is always a sum over entries and fittings, so the order in which
//! entries arrive cannot matter.

mod duplicates;
mod log_time;
mod shot_log;
mod silence;
mod wear;

pub use duplicates::{Pair, possible_duplicates};
pub use log_time::{LogTime, LogTimeError, MAX_AHEAD};
pub use shot_log::{Correction, LogKind, ShotLog, Shots, ShotsError};
pub use silence::silent_since;
pub use wear::{Clock, Reading, Stretch, count, shots_before, stretches};
