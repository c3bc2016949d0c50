//! A bow that was shot regularly and then not logged: its archer may have forgotten. Knows days and counts.

use jiff::{Span, civil::Date};

/// A bow is shot regularly if it was logged on so many days …
const REGULAR_DAYS: usize = 3;
/// … of this many up to its last log. Common practice, no source.
const OF_DAYS: i64 = 28;

/// Since when nothing was logged of a bow that was logged regularly: the day of its last log, if that was
/// at least `after_days` ago. Nothing for a bow that was hardly logged, or is logged still.
///
/// `history` is what was shot on which day, in any order; days of 0 shots say nothing.
///
/// # Example
/// ```
/// use domain::ledger::silent_since;
/// use jiff::civil::date;
/// let logged = [(date(2027, 5, 20), 60), (date(2027, 5, 22), 90), (date(2027, 5, 25), 60)];
/// let silent = |today| silent_since(&logged, today, 10);
/// assert_eq!(silent(date(2027, 6, 3)), None);
/// assert_eq!(silent(date(2027, 6, 4)), Some(date(2027, 5, 25)));
/// ```
#[must_use]
pub fn silent_since(history: &[(Date, i64)], today: Date, after_days: u32) -> Option<Date> {
    let days = || history.iter().filter(|(_, shots)| *shots > 0).map(|(on, _)| *on);
    let last = days().max()?;
    let since = last.saturating_sub(Span::new().days(OF_DAYS - 1));
    let mut lately: Vec<Date> = days().filter(|on| *on >= since).collect();
    lately.sort_unstable();
    lately.dedup();
    let over = last.saturating_add(Span::new().days(i64::from(after_days)));
    (lately.len() >= REGULAR_DAYS && over <= today).then_some(last)
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn only_a_bow_that_was_logged_regularly_falls_silent() {
        let today = date(2027, 6, 30);
        let logged = |days: &[i8]| -> Vec<(Date, i64)> {
            days.iter().map(|&day| (date(2027, 6, day), 60)).collect()
        };
        let silent = |history: &[(Date, i64)]| silent_since(history, today, 10);
        assert_eq!(silent(&[]), None);
        assert_eq!(silent(&logged(&[1, 20])), None);
        assert_eq!(silent(&logged(&[1, 20, 20])), None, "one day logged twice is one day");
        assert_eq!(silent(&logged(&[20, 1, 10])), Some(date(2027, 6, 20)));
        assert_eq!(silent(&logged(&[1, 10, 21])), None, "nine days are not ten");
        let mut with_zeros = logged(&[1, 10, 20]);
        with_zeros.push((date(2027, 6, 29), 0));
        assert_eq!(silent(&with_zeros), Some(date(2027, 6, 20)));
        // Two of three lie longer ago than four weeks.
        let long_ago = [(date(2027, 4, 1), 9), (date(2027, 5, 1), 9), (date(2027, 6, 10), 9)];
        assert_eq!(silent(&long_ago), None);
    }
}
