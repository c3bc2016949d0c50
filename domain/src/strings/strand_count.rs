//! Strand counts to start from when the yarn maker's chart is not at hand. Knows yarns, draw
//! weights and counts; nothing of a particular string or of its wear.
//!
//! # References
//!
//! Common practice, no source. The yarn maker's chart and the fit of the nock win. Low-stretch yarn
//! belongs only on bows rated for it.

use std::ops::RangeInclusive;

/// One step of the polyester chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StrandStep {
    /// The heaviest draw weight this count is used for, in pounds-force.
    pub max_draw_weight_lbf: u32,
    /// Strands in the string.
    pub strands: u32,
}

const fn step(max_draw_weight_lbf: u32, strands: u32) -> StrandStep {
    StrandStep { max_draw_weight_lbf, strands }
}

/// Polyester strands by draw weight, lightest bow first: the first step whose draw weight is not
/// below the bow's is the one to start from.
///
/// # Domain
///
/// Draw weights up to 75 lbf; there is no step above that.
///
/// # Example
///
/// ```
/// use domain::strings::strand_count::POLYESTER;
/// let for_40_lbf = POLYESTER.iter().find(|step| 40 <= step.max_draw_weight_lbf);
/// assert_eq!(for_40_lbf.map(|step| step.strands), Some(12));
/// ```
///
/// # References
///
/// Common practice, no source.
pub const POLYESTER: [StrandStep; 5] =
    [step(25, 8), step(35, 10), step(45, 12), step(55, 14), step(75, 16)];

/// Strands of a string of HMPE: 14 to 18 of the thicker yarns, 18 to 24 of the thin ones. Common
/// practice, no source.
pub const HMPE: RangeInclusive<u32> = 14..=24;

/// Strands of a string of an HMPE and LCP blend on a recurve bow. Common practice, no source.
pub const BLEND: RangeInclusive<u32> = 18..=24;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_heavier_bow_never_gets_fewer_strands() {
        for (lighter, heavier) in POLYESTER.iter().zip(POLYESTER.iter().skip(1)) {
            assert!(lighter.max_draw_weight_lbf < heavier.max_draw_weight_lbf);
            assert!(lighter.strands < heavier.strands, "{lighter:?} {heavier:?}");
        }
    }

    #[test]
    fn strands_come_in_pairs_because_the_loop_is_endless() {
        for step in POLYESTER {
            assert_eq!(step.strands % 2, 0, "{step:?}");
        }
    }
}
