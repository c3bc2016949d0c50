//! How much a bow is shot in a week, from what was logged lately. Knows dates and counts; nothing of
//! limits, and nothing of what is planned.

use jiff::{Span, civil::Date};
use thiserror::Error;

/// Older weeks than this many say nothing: people change how much they shoot.
pub const MOST_WEEKS: u32 = 12;

/// Fewer whole weeks than this have no spread.
const FEWEST_WEEKS: u32 = 2;

const DAYS_PER_WEEK: i32 = 7;

/// Shots per week of the last weeks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    /// How many whole weeks it is taken from.
    pub weeks: u32,
    /// Their mean, in shots per week.
    pub mean_shots_per_week: f64,
    /// Their sample variance, in shots per week squared.
    pub variance_per_week: f64,
}

/// Why there is no pace.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum PaceError {
    /// Logging began too lately.
    #[error("takes at least {FEWEST_WEEKS} whole weeks of logs, there are {weeks}")]
    TooShort {
        /// How many whole weeks there are.
        weeks: u32,
    },
    /// Nobody takes a shot back.
    #[error("shots of {on} must not be below 0")]
    Negative {
        /// On which day.
        on: Date,
    },
}

impl Pace {
    /// Takes the pace of a bow from its dated shots.
    ///
    /// A week is seven days, counted back from `today`, which is not over yet and does not count. A
    /// week without a shot is a week of 0 shots if the history had begun before it; the part of a week
    /// in which it began does not count. The history begins with its first date, whatever its shots:
    /// a date of 0 shots says that logging had begun by then.
    ///
    /// # Formula
    ///
    /// With weekly sums `x_1 … x_k` of the last `k = min(12, whole weeks of history)` weeks: mean
    /// `m = Σ x_i / k`, sample variance `s² = Σ (x_i - m)² / (k - 1)`.
    ///
    /// # Domain
    ///
    /// Shots are whole and not below 0; a day may be named more than once and in any order. Shots of
    /// `today` and later say nothing.
    ///
    /// # Errors
    ///
    /// [`PaceError::TooShort`] below two whole weeks, [`PaceError::Negative`] shots.
    ///
    /// # Numerical notes
    ///
    /// The sums are whole and saturate; the variance is taken in two passes, so a large mean loses
    /// nothing of a small spread.
    ///
    /// # Example
    ///
    /// ```
    /// use domain::forecast::{Pace, PaceError};
    /// use jiff::civil::date;
    /// // Weeks of 300, 0 and 150 shots: m = 150, s² = (150² + 150² + 0²) / 2 = 22500.
    /// let history = [(date(2027, 2, 8), 300), (date(2027, 2, 23), 100), (date(2027, 2, 28), 50)];
    /// let pace = Pace::of(&history, date(2027, 3, 1))?;
    /// assert_eq!(pace.weeks, 3);
    /// assert!((pace.mean_shots_per_week - 150.0).abs() < 1e-12);
    /// assert!((pace.variance_per_week - 22_500.0).abs() < 1e-9);
    /// assert_eq!(Pace::of(&history, date(2027, 2, 21)), Err(PaceError::TooShort { weeks: 1 }));
    /// # Ok::<(), PaceError>(())
    /// ```
    ///
    /// # References
    ///
    /// Mean and sample variance need none. Twelve weeks are common practice, no source.
    pub fn of(history: &[(Date, i64)], today: Date) -> Result<Self, PaceError> {
        if let Some(&(on, _)) = history.iter().find(|(_, shots)| *shots < 0) {
            return Err(PaceError::Negative { on });
        }
        let first = history.iter().map(|(on, _)| *on).min();
        let weeks = first.map_or(0, |first| whole_weeks(first, today)).min(MOST_WEEKS);
        if weeks < FEWEST_WEEKS {
            return Err(PaceError::TooShort { weeks });
        }
        let sums: Vec<f64> = (1..=weeks).map(|back| shots_in_week(history, today, back)).collect();
        let count = f64::from(weeks);
        let mean = sums.iter().sum::<f64>() / count;
        let squares = sums.iter().map(|sum| (sum - mean).powi(2)).sum::<f64>();
        Ok(Self { weeks, mean_shots_per_week: mean, variance_per_week: squares / (count - 1.0) })
    }
}

/// The whole weeks from a day on until just before today.
fn whole_weeks(first: Date, today: Date) -> u32 {
    let days = first.until(today).map_or(0, |span| span.get_days());
    u32::try_from(days / DAYS_PER_WEEK).unwrap_or(0)
}

/// The shots of the week that lies so many weeks back; the first is the one that ended yesterday.
fn shots_in_week(history: &[(Date, i64)], today: Date, back: u32) -> f64 {
    let from = today.saturating_sub(Span::new().weeks(i64::from(back)));
    let before = from.saturating_add(Span::new().weeks(1));
    let within = history.iter().filter(|(on, _)| (from..before).contains(on));
    let sum = within.fold(0_i64, |sum, (_, shots)| sum.saturating_add(*shots));
    #[expect(clippy::cast_precision_loss, reason = "exact below 2^53 shots a week")]
    let sum = sum as f64;
    sum
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;
    use proptest::prelude::*;

    use super::*;

    const TODAY: Date = Date::constant(2027, 3, 1);

    fn days_ago(days: i64) -> Date {
        TODAY.saturating_sub(Span::new().days(days))
    }

    fn check(history: &[(i64, i64)], weeks: u32, mean: f64, variance: f64) {
        let history: Vec<_> = history.iter().map(|(ago, shots)| (days_ago(*ago), *shots)).collect();
        let pace = Pace::of(&history, TODAY).unwrap();
        assert_eq!(pace.weeks, weeks, "{history:?}");
        assert!((pace.mean_shots_per_week - mean).abs() < 1e-9, "{pace:?}");
        assert!((pace.variance_per_week - variance).abs() < 1e-9, "{pace:?}");
    }

    #[test]
    fn a_week_is_the_seven_days_before_today() {
        // Days 1 to 7 ago are one week, 8 to 14 the one before: 7 + 1 and 8 + 14.
        check(&[(1, 1), (7, 7), (8, 8), (14, 14)], 2, 15.0, 98.0);
        // What was shot today, or is dated later, says nothing.
        check(&[(0, 500), (-3, 500), (1, 10), (14, 10)], 2, 10.0, 0.0);
    }

    #[test]
    fn weeks_without_a_shot_count_once_the_history_has_begun() {
        // 84 shots in one of twelve weeks: m = 7, s² = (77² + 11 · 7²) / 11 = (5929 + 539) / 11.
        check(&[(1, 84), (400, 0)], 12, 7.0, 588.0);
        check(&[(400, 900)], 12, 0.0, 0.0);
        // The week it began in is not whole: 20 days are two weeks, and the shots before them are out.
        check(&[(20, 900), (10, 30), (3, 50)], 2, 40.0, 200.0);
    }

    #[test]
    fn too_short_a_history_has_no_pace() {
        let pace = |ago: i64| Pace::of(&[(days_ago(ago), 60)], TODAY);
        assert_eq!(pace(13), Err(PaceError::TooShort { weeks: 1 }));
        assert_eq!(pace(14).map(|pace| pace.weeks), Ok(2));
        assert_eq!(pace(-20), Err(PaceError::TooShort { weeks: 0 }));
        assert_eq!(Pace::of(&[], TODAY), Err(PaceError::TooShort { weeks: 0 }));
    }

    #[test]
    fn shots_below_zero_are_refused_by_their_day() {
        let refused = Pace::of(&[(days_ago(30), 5), (days_ago(3), -1)], TODAY);
        assert_eq!(refused, Err(PaceError::Negative { on: date(2027, 2, 26) }));
        let most = Pace::of(&[(days_ago(30), i64::MAX), (days_ago(3), i64::MAX)], TODAY).unwrap();
        assert!(most.variance_per_week.is_finite(), "{most:?}");
    }

    proptest! {
        /// The mean times the weeks is what was shot in them, however the history is ordered or cut.
        #[test]
        fn the_mean_keeps_every_shot(
            mut days in proptest::collection::vec((1_i64..=84, 0_i64..500), 0..60),
        ) {
            days.push((90, 0));
            let history: Vec<_> = days.iter().map(|(ago, shots)| (days_ago(*ago), *shots)).collect();
            let pace = Pace::of(&history, TODAY).unwrap();
            let total: i64 = days.iter().map(|(_, shots)| shots).sum();
            prop_assert_eq!(pace.weeks, 12);
            #[expect(clippy::cast_precision_loss, reason = "at most 60 days of 500 shots")]
            let difference = pace.mean_shots_per_week * 12.0 - total as f64;
            prop_assert!(difference.abs() < 1e-6, "{difference}");
            prop_assert!(pace.variance_per_week >= 0.0);
            let reversed: Vec<_> = history.into_iter().rev().collect();
            prop_assert_eq!(Pace::of(&reversed, TODAY).unwrap(), pace);
        }
    }
}
