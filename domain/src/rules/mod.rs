//! The club's maintenance rules. Knows nothing of storage, mail or clocks.
pub mod common_practice;
