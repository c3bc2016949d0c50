//! What a club's rule book starts from before anybody sets it. Knows numbers and what they mean in
//! the trade; nothing of clubs, parts, or how a rule is weighed.
//!
//! None of these limits has a published source: each one is common practice, no source. They are
//! club policy, to be set by club, material and draw weight, and never shown as physics. The bow
//! and string makers' instructions win over every one of them.

use std::ops::RangeInclusive;

/// Shots a new string needs before it is trusted. Common practice, no source; advice runs from 100
/// to 300.
pub const SETTLE_IN_SHOTS: u32 = 200;

/// Shots to sight in after a change, once the new string has settled: a round. Common practice, no
/// source.
pub const SIGHT_IN_SHOTS: u32 = 72;

/// Shots at which a change of string is planned. Common practice, no source.
pub const STRING_PLAN_SHOTS: u32 = 15_000;

/// Shots at which a string is retired, looking good or not. Common practice, no source.
pub const STRING_RETIRE_SHOTS: u32 = 30_000;

/// A string's retirement limit of so many shots or more is refused unless somebody overrides it with a
/// reason: it is far too many shots for one string. Common practice, no source.
pub const STRING_REJECT_SETTING_ABOVE_SHOTS: u32 = 60_000;

/// Shots between inspections of a center serving. Common practice, no source.
pub const SERVING_INSPECT_SHOTS: u32 = 1_000;

/// Shots a center serving commonly lasts before it is served again. Common practice, no source.
pub const SERVING_LIFE_SHOTS: RangeInclusive<u32> = 2_000..=5_000;

/// Days between looks at the wax in regular use. Common practice, no source; advice runs from
/// after every practice to every two weeks.
pub const WAX_CHECK_DAYS: u32 = 14;

#[cfg(test)]
mod tests {
    use super::*;

    /// The order a string passes them in: settled, planned, retired, refused.
    #[test]
    fn the_string_limits_are_in_the_order_a_string_meets_them() {
        let limits = [
            SETTLE_IN_SHOTS,
            STRING_PLAN_SHOTS,
            STRING_RETIRE_SHOTS,
            STRING_REJECT_SETTING_ABOVE_SHOTS,
        ];
        assert!(limits.is_sorted_by(|earlier, later| earlier < later), "{limits:?}");
    }

    #[test]
    fn a_serving_is_inspected_before_it_is_expected_to_fail() {
        assert!(SERVING_INSPECT_SHOTS < *SERVING_LIFE_SHOTS.start());
        assert!(!SERVING_LIFE_SHOTS.is_empty());
    }
}
