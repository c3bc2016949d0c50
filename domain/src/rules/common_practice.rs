//! Placeholder until the facts of the trade arrive.

/// Settle-in.
pub const SETTLE_IN_SHOTS: u32 = 200;
