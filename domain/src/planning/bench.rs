//! What falls to the bench in the weeks ahead, against what it can make. Knows days and counts.

use jiff::{Span, civil::Date, civil::Weekday};

use crate::rules::RuleTask;

/// How far ahead the weekly list looks: four weeks leave time to make a string and settle it. Common
/// practice, no source.
pub const WEEKS_AHEAD: u32 = 4;

/// Whether work is done at the bench: a string made, or a serving wound.
#[must_use]
pub const fn is_bench_work(task: RuleTask) -> bool {
    matches!(task, RuleTask::Change | RuleTask::ReServe)
}

/// The Monday of a day's week.
///
/// # Example
/// ```
/// use domain::planning::bench::monday_of;
/// use jiff::civil::date;
/// assert_eq!(monday_of(date(2027, 6, 13)), date(2027, 6, 7)); // a Sunday
/// assert_eq!(monday_of(date(2027, 6, 7)), date(2027, 6, 7));
/// ```
#[must_use]
pub fn monday_of(day: Date) -> Date {
    let since = day.weekday().since(Weekday::Monday);
    day.saturating_sub(Span::new().days(since))
}

/// A week of the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Week {
    /// Its Monday.
    pub from: Date,
    /// How many jobs are wanted by its end that were not before.
    pub jobs: u32,
    /// How many of all the jobs wanted until its end the bench cannot have made by then.
    pub short: u32,
}

/// The weeks from the one of `today` on, [`WEEKS_AHEAD`] of them, with what is wanted and what is missing.
///
/// # Formula
/// With `d_w` jobs wanted in week `w = 1, 2, …` (those wanted earlier count in the first) and `c` jobs that
/// the bench makes a week: `short_w = max(0, d_1 + … + d_w - c·w)`. Jobs may be made before they are wanted.
///
/// # Domain
/// Days after the last week are left out. No jobs give weeks of 0.
///
/// # Example
/// ```
/// use domain::planning::bench::{Week, weeks};
/// use jiff::civil::date;
/// let wanted = [date(2027, 6, 7), date(2027, 6, 9), date(2027, 6, 9), date(2027, 6, 22)];
/// let found = weeks(&wanted, date(2027, 6, 8), 2);
/// assert_eq!(found.len(), 4);
/// assert_eq!(found[0], Week { from: date(2027, 6, 7), jobs: 3, short: 1 });
/// assert_eq!(found[1], Week { from: date(2027, 6, 14), jobs: 0, short: 0 });
/// assert_eq!(found[2], Week { from: date(2027, 6, 21), jobs: 1, short: 0 });
/// ```
#[must_use]
pub fn weeks(wanted: &[Date], today: Date, jobs_per_week: u32) -> Vec<Week> {
    let first = monday_of(today);
    let mut weeks = Vec::new();
    let (mut all, mut makes) = (0_u32, 0_u32);
    for nth in 0..WEEKS_AHEAD {
        let from = first.saturating_add(Span::new().weeks(i64::from(nth)));
        let next = first.saturating_add(Span::new().weeks(i64::from(nth) + 1));
        let here = |day: &&Date| **day < next && (nth == 0 || **day >= from);
        let jobs = u32::try_from(wanted.iter().filter(here).count()).unwrap_or(u32::MAX);
        all = all.saturating_add(jobs);
        makes = makes.saturating_add(jobs_per_week);
        weeks.push(Week { from, jobs, short: all.saturating_sub(makes) });
    }
    weeks
}

/// The last day that the list looks to.
#[must_use]
pub fn last_day(today: Date) -> Date {
    let weeks = Span::new().weeks(i64::from(WEEKS_AHEAD));
    monday_of(today).saturating_add(weeks).saturating_sub(Span::new().days(1))
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn what_is_wanted_after_the_last_week_is_left_out() {
        let today = date(2027, 6, 8);
        assert_eq!(last_day(today), date(2027, 7, 4));
        let jobs = |day| weeks(&[day], today, 0).iter().map(|week| week.jobs).sum::<u32>();
        assert_eq!((jobs(date(2027, 7, 4)), jobs(date(2027, 7, 5))), (1, 0));
        assert_eq!(jobs(date(2026, 1, 1)), 1);
    }

    #[test]
    fn a_bench_that_makes_nothing_is_short_of_everything_and_one_with_room_of_nothing() {
        let today = date(2027, 6, 7);
        let wanted = [date(2027, 6, 7), date(2027, 6, 30)];
        let short =
            |makes| weeks(&wanted, today, makes).iter().map(|week| week.short).collect::<Vec<_>>();
        assert_eq!(short(0), [1, 1, 1, 2]);
        assert_eq!(short(1), [0, 0, 0, 0]);
    }
}
