//! How much slower the old string is, from the two mean speeds alone. Knows no spread, so it cannot
//! say whether the loss is real: that takes the single readings.

use thiserror::Error;

use crate::units::ft_s_to_m_s;

/// Slower than this is no arrow from a bow; faster neither.
const SPEEDS_FT_S: std::ops::RangeInclusive<f64> = 1.0..=1_000.0;

/// The speed an old string has lost against a new one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpeedLoss {
    /// Of the new string's speed, in per cent; negative where the old string is the faster one.
    pub loss_percent: f64,
    /// In metres per second; negative where the old string is the faster one.
    pub loss_m_s: f64,
    /// Chronograph readings behind each mean.
    pub readings_each: u32,
}

/// Why no loss can be given.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum SpeedLossError {
    /// A speed no arrow has.
    #[error(
        "{input} must be from {} to {} ft/s, got {speed_ft_s}",
        SPEEDS_FT_S.start(),
        SPEEDS_FT_S.end()
    )]
    Speed {
        /// Which of the two speeds: `old_ft_s` or `new_ft_s`.
        input: &'static str,
        /// As given.
        speed_ft_s: f64,
    },
    /// A mean of nothing.
    #[error("readings_each must be at least 1")]
    NoReadings,
}

/// The loss of speed of an old string against a new one, shot with the same arrows over the same
/// chronograph.
///
/// # Formula
///
/// `loss_percent = 100 (new − old) / new`, `loss_m_s = 0.3048 (new − old)`.
///
/// # Domain
///
/// Mean speeds from 1 to 1000 ft/s, in ft/s; at least one reading behind each mean. The number of
/// readings does not change the loss; it is carried so that the loss is never shown without it.
///
/// # Errors
///
/// A speed outside its domain, NaN included, or no readings.
///
/// # Example
///
/// ```
/// use domain::trials::speed_loss::speed_loss;
/// let loss = speed_loss(193.0, 197.0, 5)?;
/// assert!((loss.loss_percent - 2.0304568527919).abs() < 1e-12);
/// assert!((loss.loss_m_s - 1.2192).abs() < 1e-12);
/// # Ok::<(), domain::trials::speed_loss::SpeedLossError>(())
/// ```
///
/// # References
///
/// The arithmetic needs none. That an old string loses about 2 % is common practice, no source.
pub fn speed_loss(
    old_ft_s: f64,
    new_ft_s: f64,
    readings_each: u32,
) -> Result<SpeedLoss, SpeedLossError> {
    for (input, speed_ft_s) in [("old_ft_s", old_ft_s), ("new_ft_s", new_ft_s)] {
        if !SPEEDS_FT_S.contains(&speed_ft_s) {
            return Err(SpeedLossError::Speed { input, speed_ft_s });
        }
    }
    if readings_each == 0 {
        return Err(SpeedLossError::NoReadings);
    }
    let loss_ft_s = new_ft_s - old_ft_s;
    Ok(SpeedLoss {
        loss_percent: 100.0 * loss_ft_s / new_ft_s,
        loss_m_s: ft_s_to_m_s(loss_ft_s),
        readings_each,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(old_ft_s: f64, new_ft_s: f64, percent: f64, m_s: f64) {
        let loss = speed_loss(old_ft_s, new_ft_s, 5);
        assert!(
            loss.is_ok_and(|loss| (loss.loss_percent - percent).abs() < 1e-12
                && (loss.loss_m_s - m_s).abs() < 1e-12),
            "{loss:?}"
        );
    }

    #[test]
    fn the_loss_is_a_share_of_the_new_strings_speed() {
        check(190.0, 200.0, 5.0, 3.048);
        check(200.0, 200.0, 0.0, 0.0);
    }

    #[test]
    fn an_old_string_that_is_faster_has_a_negative_loss() {
        check(205.0, 200.0, -2.5, -1.524);
    }

    #[test]
    fn a_speed_no_arrow_has_is_refused_by_name() {
        for speed in [0.0, -193.0, f64::NAN, f64::INFINITY, f64::MIN_POSITIVE, 1e6] {
            let old = speed_loss(speed, 197.0, 5);
            assert!(matches!(old, Err(SpeedLossError::Speed { input: "old_ft_s", .. })), "{speed}");
            let new = speed_loss(193.0, speed, 5);
            assert!(matches!(new, Err(SpeedLossError::Speed { input: "new_ft_s", .. })), "{speed}");
        }
    }

    #[test]
    fn a_mean_of_no_readings_is_refused() {
        assert_eq!(speed_loss(193.0, 197.0, 0), Err(SpeedLossError::NoReadings));
    }
}
