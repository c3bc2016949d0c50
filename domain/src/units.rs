//! Exact ratios between the units archers say (ft/s, inches, lbf, grains) and the SI units behind
//! them. Knows nothing of bows, of rounding for display, or of how a number arrived.
//!
//! Every function is one multiplication or division by an exactly defined ratio. A finite input of
//! any size met on a range gives a finite answer; refusing NaN and infinities is the caller's work,
//! done once where numbers enter.
//!
//! # References
//!
//! International yard and pound agreement (1959): 1 yd = 0.9144 m, 1 lb = 0.45359237 kg; the grain
//! is 1/7000 lb. Standard gravity 9.80665 m/s²: 3rd CGPM (1901). Both from memory.

/// Metres in one international foot, exact.
pub const METRES_PER_FOOT: f64 = 0.3048;

/// Millimetres in one international inch, exact.
pub const MM_PER_INCH: f64 = 25.4;

/// Kilograms in one international avoirdupois pound, exact.
pub const KG_PER_POUND: f64 = 0.453_592_37;

/// Grains in one pound, exact.
pub const GRAINS_PER_POUND: f64 = 7000.0;

/// Milligrams in one grain, exact: 453 592.37 mg / 7000.
pub const MG_PER_GRAIN: f64 = 64.798_91;

/// Standard gravity in m/s², exact by definition; it ties the pound-force to the pound.
pub const STANDARD_GRAVITY_M_S2: f64 = 9.806_65;

/// Newtons in one pound-force, exact: 0.45359237 kg × 9.80665 m/s².
pub const NEWTONS_PER_LBF: f64 = 4.448_221_615_260_5;

/// An arrow speed read in feet per second, in metres per second.
///
/// # Formula
///
/// `v_m_s = 0.3048 v_ft_s`
///
/// # Example
///
/// ```
/// let speed_m_s = domain::units::ft_s_to_m_s(197.0);
/// assert!((speed_m_s - 60.0456).abs() < 1e-12);
/// ```
#[must_use]
pub fn ft_s_to_m_s(speed_ft_s: f64) -> f64 {
    speed_ft_s * METRES_PER_FOOT
}

/// A speed in metres per second, in feet per second.
///
/// # Formula
///
/// `v_ft_s = v_m_s / 0.3048`
///
/// # Example
///
/// ```
/// let speed_ft_s = domain::units::m_s_to_ft_s(60.0456);
/// assert!((speed_ft_s - 197.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn m_s_to_ft_s(speed_m_s: f64) -> f64 {
    speed_m_s / METRES_PER_FOOT
}

/// A length in inches (bow length, brace height), in millimetres.
///
/// # Formula
///
/// `l_mm = 25.4 l_in`
///
/// # Example
///
/// ```
/// assert!((domain::units::in_to_mm(8.75) - 222.25).abs() < 1e-12);
/// ```
#[must_use]
pub fn in_to_mm(length_in: f64) -> f64 {
    length_in * MM_PER_INCH
}

/// A length in millimetres, in inches.
///
/// # Formula
///
/// `l_in = l_mm / 25.4`
///
/// # Example
///
/// ```
/// assert!((domain::units::mm_to_in(222.25) - 8.75).abs() < 1e-12);
/// ```
#[must_use]
pub fn mm_to_in(length_mm: f64) -> f64 {
    length_mm / MM_PER_INCH
}

/// A draw weight in pounds-force, in newtons.
///
/// # Formula
///
/// `F_n = 4.4482216152605 F_lbf`
///
/// # Example
///
/// ```
/// assert!((domain::units::lbf_to_n(40.0) - 177.92886461042).abs() < 1e-11);
/// ```
#[must_use]
pub fn lbf_to_n(force_lbf: f64) -> f64 {
    force_lbf * NEWTONS_PER_LBF
}

/// A force in newtons, in pounds-force.
///
/// # Formula
///
/// `F_lbf = F_n / 4.4482216152605`
///
/// # Example
///
/// ```
/// assert!((domain::units::n_to_lbf(177.92886461042) - 40.0).abs() < 1e-11);
/// ```
#[must_use]
pub fn n_to_lbf(force_n: f64) -> f64 {
    force_n / NEWTONS_PER_LBF
}

/// A mass in grains (points, whole arrows), in milligrams.
///
/// # Formula
///
/// `m_mg = 64.79891 m_grain`
///
/// # Example
///
/// ```
/// assert!((domain::units::grain_to_mg(100.0) - 6479.891).abs() < 1e-9);
/// ```
#[must_use]
pub fn grain_to_mg(mass_grain: f64) -> f64 {
    mass_grain * MG_PER_GRAIN
}

/// A mass in grains, in grams.
///
/// # Formula
///
/// `m_g = 64.79891 m_grain / 1000`
///
/// # Example
///
/// ```
/// assert!((domain::units::grain_to_g(300.0) - 19.439673).abs() < 1e-12);
/// ```
#[must_use]
pub fn grain_to_g(mass_grain: f64) -> f64 {
    grain_to_mg(mass_grain) / 1000.0
}

/// A mass in grams, in grains.
///
/// # Formula
///
/// `m_grain = 1000 m_g / 64.79891`
///
/// # Example
///
/// ```
/// assert!((domain::units::g_to_grain(19.439673) - 300.0).abs() < 1e-10);
/// ```
#[must_use]
pub fn g_to_grain(mass_g: f64) -> f64 {
    mass_g * 1000.0 / MG_PER_GRAIN
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(written: f64, derived: f64) {
        assert!((written - derived).abs() <= 2.0 * f64::EPSILON * derived, "{written} {derived}");
    }

    #[test]
    fn the_derived_ratios_follow_from_the_agreement() {
        check(METRES_PER_FOOT, 0.9144 / 3.0);
        check(MM_PER_INCH, 914.4 / 36.0);
        check(MG_PER_GRAIN, KG_PER_POUND * 1e6 / GRAINS_PER_POUND);
        check(NEWTONS_PER_LBF, KG_PER_POUND * STANDARD_GRAVITY_M_S2);
    }

    #[test]
    fn each_pair_of_conversions_returns_to_where_it_started() {
        for value in [1e-6, 0.5, 1.0, 193.0, 40_000.0] {
            check(m_s_to_ft_s(ft_s_to_m_s(value)), value);
            check(mm_to_in(in_to_mm(value)), value);
            check(n_to_lbf(lbf_to_n(value)), value);
            check(g_to_grain(grain_to_g(value)), value);
        }
    }
}
