//! domain
pub mod planning;
pub mod rules;
pub mod strings;
pub mod targets;
pub mod trials;
pub mod units;
