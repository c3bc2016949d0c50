//! Brace heights to start from when a recurve bow comes without its maker's range. Knows bow
//! lengths and heights; nothing of a particular bow or of settling-in.
//!
//! Brace height runs from the string, square to it, to a named point of the grip. Say which point
//! was used (pivot or throat) with every reading.
//!
//! # References
//!
//! Common practice, no single source: shop and coaching charts agree within about 1/4 in. The bow
//! maker's range always wins.

/// The usual brace heights for one length of recurve bow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BraceHeightRange {
    /// Bow length, as marked on the bow, in inches.
    pub bow_length_in: u32,
    /// Lowest usual brace height, in inches.
    pub lowest_in: f64,
    /// Highest usual brace height, in inches.
    pub highest_in: f64,
}

const fn range(bow_length_in: u32, lowest_in: f64, highest_in: f64) -> BraceHeightRange {
    BraceHeightRange { bow_length_in, lowest_in, highest_in }
}

/// Usual brace heights of recurve bows, shortest bow first.
///
/// # Domain
///
/// Recurve bows of 64, 66, 68 and 70 in. Nothing is interpolated: between the lengths there is no
/// chart to lean on.
///
/// # Example
///
/// ```
/// use domain::strings::brace_height::RECURVE;
/// let bow_68 = RECURVE.iter().find(|range| range.bow_length_in == 68);
/// assert_eq!(bow_68.map(|range| (range.lowest_in, range.highest_in)), Some((8.5, 9.0)));
/// ```
///
/// # References
///
/// Common practice, no single source.
pub const RECURVE: [BraceHeightRange; 4] =
    [range(64, 8.0, 8.5), range(66, 8.25, 8.75), range(68, 8.5, 9.0), range(70, 8.75, 9.25)];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_longer_bow_stands_higher() {
        for (shorter, longer) in RECURVE.iter().zip(RECURVE.iter().skip(1)) {
            assert!(shorter.bow_length_in < longer.bow_length_in);
            assert!(shorter.lowest_in < longer.lowest_in, "{shorter:?} {longer:?}");
            assert!(shorter.highest_in < longer.highest_in, "{shorter:?} {longer:?}");
        }
    }

    #[test]
    fn every_range_is_the_right_way_round() {
        for range in RECURVE {
            assert!(range.lowest_in < range.highest_in, "{range:?}");
        }
    }
}
