//! The dates on which a count of shots will be reached, from the recent rate alone. It knows no
//! calendar of events, no holidays and no other bow: it is the plain forecast, to be beaten.

use jiff::{Span, civil::Date};

use super::Pace;
use crate::{rules::Left, words::words};

/// The standard normal quantile of 0.9.
const Z_90: f64 = 1.281_551_565_544_600_4;

/// Dates further ahead than this are not told.
const MOST_YEARS: i64 = 5;

/// No five years have more days.
const MOST_DAYS: f64 = 1_827.0;

const DAYS_PER_WEEK: f64 = 7.0;

/// A number of days this close to a whole one is that one.
const WHOLE_DAY_TOLERANCE: f64 = 1e-9;

words! {
    /// How a date was forecast.
    pub enum Method {
        /// From the mean and spread of the last weeks, by a normal approximation.
        RecentRate = "recent_rate",
    }
}

/// When something is reached: early, in the middle and late. A date that is missing lies too far ahead
/// to be told, or there is no rate to tell it by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Band {
    /// Reached by then with a chance of one in ten: the archer shoots more than of late.
    pub p10_on: Option<Date>,
    /// As likely before as after.
    pub p50_on: Option<Date>,
    /// Reached by then with a chance of nine in ten.
    pub p90_on: Option<Date>,
    /// How it was forecast.
    pub method: Method,
}

/// The dates on which what is left is used up.
///
/// It is a plain normal approximation, [`Method::RecentRate`]: the shots of `n` weeks are taken as
/// normal with mean `n m` and standard deviation `s √n`, as if weeks were alike and knew nothing of
/// each other. Holidays, plans and the weight of recent weeks are not in it.
///
/// # Formula
///
/// With mean `m` and standard deviation `s` of the shots of a week and `R` shots left, `n` solves
/// `n m + z s √n = R`:
///
/// `√n = (-z s + √(z² s² + 4 m R)) / (2 m)`
///
/// with `z = 1.2815515655446004` for p10, `0` for p50 (so `n = R / m`) and `-1.2815515655446004` for
/// p90. The date is `today` and `⌈7 n⌉` days. `R <= 0` is `today`. A calendar limit caps each of the
/// three: whichever comes first. Where both have to be used up it is the later one, and none without
/// a date by shots.
///
/// # Domain
///
/// Any whole `R`; `m` above 0. Without a pace, with `m = 0`, and beyond five years there is no date by
/// shots, and the calendar limit stands alone. A calendar limit that is over is `today`.
///
/// # Errors
///
/// None: what cannot be told is a missing date.
///
/// # Numerical notes
///
/// For `z > 0` the closed form subtracts two numbers that are near each other when `s` is large; it is
/// found as `√n = 2 R / (z s + √(z² s² + 4 m R))` instead, which is the same number. A count of days
/// within 1e-9 (relative) above a whole one is that one, so that 100 shots at 350 a week are two days.
/// p10 is never later than p50, nor p50 than p90: where rounding would make it so, p50 decides.
///
/// # Example
///
/// ```
/// use domain::{forecast::{Pace, band}, rules::Left};
/// use jiff::civil::date;
/// let pace = Pace { weeks: 12, mean_shots_per_week: 300.0, variance_per_week: 10_000.0 };
/// let left = Left { shots: Some(1_200), ..Left::default() };
/// let band = band(left, Some(&pace), date(2027, 3, 1));
/// // p50: 1200 / 300 = 4 weeks. p10: √n = (-128.155 + √(16423.7 + 1440000)) / 600 = 1.79778,
/// // n = 3.23200, so 22.6 days. p90: √n = 2.22496, n = 4.95046, so 34.7 days.
/// assert_eq!(band.p10_on, Some(date(2027, 3, 24)));
/// assert_eq!(band.p50_on, Some(date(2027, 3, 29)));
/// assert_eq!(band.p90_on, Some(date(2027, 4, 5)));
/// assert_eq!(band.method.as_str(), "recent_rate");
/// ```
///
/// # References
///
/// The quantile of the standard normal law: any table, to the last digit of a double. That the weeks
/// of an archer are alike is common practice, no source.
#[must_use]
pub fn band(left: Left, pace: Option<&Pace>, today: Date) -> Band {
    let until = left.until.map(|until| until.max(today));
    let weeks = left.shots.and_then(|shots| Weeks::until(shots, pace));
    let on = |weeks: Option<f64>| {
        let by_shots = weeks.and_then(|weeks| after(weeks, today));
        match (by_shots, until) {
            (by_shots, until) if !left.both => [by_shots, until].into_iter().flatten().min(),
            (None, _) if left.shots.is_some() => None,
            (by_shots, until) => by_shots.max(until),
        }
    };
    Band {
        p10_on: on(weeks.map(|weeks| weeks.p10)),
        p50_on: on(weeks.map(|weeks| weeks.p50)),
        p90_on: on(weeks.map(|weeks| weeks.p90)),
        method: Method::RecentRate,
    }
}

/// How many weeks until something is reached.
#[derive(Debug, Clone, Copy)]
struct Weeks {
    p10: f64,
    p50: f64,
    p90: f64,
}

impl Weeks {
    fn until(shots: i64, pace: Option<&Pace>) -> Option<Self> {
        if shots <= 0 {
            return Some(Self { p10: 0.0, p50: 0.0, p90: 0.0 });
        }
        let (mean, spread) = pace.map(|pace| (pace.mean_shots_per_week, pace.variance_per_week))?;
        if !(mean.is_finite() && mean > 0.0 && spread.is_finite() && spread >= 0.0) {
            return None;
        }
        #[expect(clippy::cast_precision_loss, reason = "exact below 2^53 shots")]
        let shots = shots as f64;
        let spread = Z_90 * spread.sqrt();
        let root = (spread * spread + 4.0 * mean * shots).sqrt();
        let p50 = shots / mean;
        Some(Self {
            p10: (2.0 * shots / (spread + root)).powi(2).min(p50),
            p50,
            p90: ((spread + root) / (2.0 * mean)).powi(2).max(p50),
        })
    }
}

/// The day that lies so many weeks after today; none beyond what is told.
fn after(weeks: f64, today: Date) -> Option<Date> {
    let days = days_in_weeks(weeks)?;
    let furthest = today.saturating_add(Span::new().years(MOST_YEARS));
    today.checked_add(Span::new().days(days)).ok().filter(|on| *on <= furthest)
}

/// The whole days of so many weeks, rounded up; none beyond five years, or if it is no number.
pub(crate) fn days_in_weeks(weeks: f64) -> Option<i64> {
    whole_days(weeks * DAYS_PER_WEEK)
}

/// Rounds days up, but not for a remainder that only rounding made; none beyond five years.
fn whole_days(days: f64) -> Option<i64> {
    if !(0.0..=MOST_DAYS).contains(&days) {
        return None;
    }
    let nearest = days.round();
    let whole =
        if (days - nearest).abs() <= WHOLE_DAY_TOLERANCE * nearest { nearest } else { days.ceil() };
    #[expect(
        clippy::cast_possible_truncation,
        reason = "whole, and checked to lie within 0..=1827"
    )]
    Some(whole as i64)
}

#[cfg(test)]
mod tests;
