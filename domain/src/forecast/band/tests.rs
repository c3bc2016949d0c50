//! What the plain forecast says, by hand and as laws.

use jiff::civil::date;
use proptest::prelude::*;

use super::*;

const TODAY: Date = Date::constant(2027, 3, 1);

fn pace(mean: f64, deviation: f64) -> Pace {
    Pace { weeks: 12, mean_shots_per_week: mean, variance_per_week: deviation * deviation }
}

fn shots(shots: i64) -> Left {
    Left { shots: Some(shots), ..Left::default() }
}

/// In how many days each of the three lies.
fn days(band: Band) -> [Option<i64>; 3] {
    let days = |on: Date| i64::from(TODAY.until(on).unwrap().get_days());
    [band.p10_on, band.p50_on, band.p90_on].map(|on| on.map(days))
}

fn check(left: Left, pace: Option<Pace>, expected: [Option<i64>; 3]) {
    assert_eq!(days(band(left, pace.as_ref(), TODAY)), expected, "{left:?} {pace:?}");
}

#[test]
fn without_spread_all_three_are_the_mean() {
    // 700 / 350 = 2 weeks; 100 / 350 of a week is 2 days; 101 shots take a third day.
    check(shots(700), Some(pace(350.0, 0.0)), [Some(14); 3]);
    check(shots(100), Some(pace(350.0, 0.0)), [Some(2); 3]);
    check(shots(101), Some(pace(350.0, 0.0)), [Some(3); 3]);
    check(shots(1), Some(pace(350.0, 0.0)), [Some(1); 3]);
}

#[test]
fn nothing_left_is_today_whatever_the_pace() {
    for none in [0, -1, i64::MIN] {
        check(shots(none), None, [Some(0); 3]);
        check(shots(none), Some(pace(0.0, 0.0)), [Some(0); 3]);
        check(shots(none), Some(pace(300.0, 90.0)), [Some(0); 3]);
    }
}

#[test]
fn without_a_rate_there_is_no_date() {
    check(shots(1), None, [None; 3]);
    check(shots(1), Some(pace(0.0, 0.0)), [None; 3]);
    check(Left::default(), Some(pace(300.0, 90.0)), [None; 3]);
    for (mean, variance) in [(f64::NAN, 1.0), (-1.0, 1.0), (f64::INFINITY, 1.0), (1.0, f64::NAN)] {
        let odd = Pace { weeks: 12, mean_shots_per_week: mean, variance_per_week: variance };
        check(shots(1), Some(odd), [None; 3]);
    }
}

#[test]
fn beyond_five_years_there_is_no_date() {
    // 2027-03-01 to 2032-03-01 are 5 · 365 + 2 days: 2028 and 2032 have a 29 February in between.
    check(shots(1_827), Some(pace(7.0, 0.0)), [Some(1_827); 3]);
    check(shots(1_828), Some(pace(7.0, 0.0)), [None; 3]);
    check(shots(i64::MAX), Some(pace(1.0, 1.0)), [None; 3]);
    // √n = (-z s + √(z² s² + 4 m R)) / 2m with s = 20, m = 7, R = 1500: n is 167.0 weeks at p10,
    // 214.3 at p50 and 275.0 at p90, of which only the last is beyond 261 weeks.
    let wide = days(band(shots(1_500), Some(&pace(7.0, 20.0)), TODAY));
    assert!(wide[0].is_some() && wide[1] == Some(1_500) && wide[2].is_none(), "{wide:?}");
}

#[test]
fn the_calendar_caps_each_of_the_three() {
    // By shots in 23, 28 and 35 days; see the example of `band`.
    let until = |day: Date| Left { shots: Some(1_200), until: Some(day), both: false };
    let pace = Some(pace(300.0, 100.0));
    check(until(date(2027, 4, 30)), pace, [Some(23), Some(28), Some(35)]);
    check(until(date(2027, 3, 31)), pace, [Some(23), Some(28), Some(30)]);
    check(until(date(2027, 3, 2)), pace, [Some(1); 3]);
    // One that is over is today; one by itself is all three, however far ahead.
    check(until(date(2027, 2, 1)), pace, [Some(0); 3]);
    check(until(date(2027, 3, 11)), None, [Some(10); 3]);
    check(Left { until: Some(date(2036, 3, 1)), ..Left::default() }, None, [Some(3_288); 3]);
}

/// The weeks that solve n m + z s √n = R, by halving an interval of √n.
fn by_bisection(mean: f64, deviation: f64, remaining: f64, z: f64) -> f64 {
    let sum = |root: f64| root * root * mean + z * deviation * root;
    // For z < 0 the sum first falls below 0 and rises after; its positive root is the only one above 0.
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    while sum(high) < remaining {
        high *= 2.0;
    }
    for _ in 0..200 {
        let middle = low.midpoint(high);
        if sum(middle) < remaining { low = middle } else { high = middle }
    }
    low.midpoint(high).powi(2)
}

proptest! {
    #[test]
    fn the_closed_form_solves_its_equation(
        mean in 1.0_f64..900.0, deviation in 0.0_f64..600.0, remaining in 1_i64..40_000,
    ) {
        let weeks = Weeks::until(remaining, Some(&pace(mean, deviation))).unwrap();
        #[expect(clippy::cast_precision_loss, reason = "at most 40,000")]
        let remaining = remaining as f64;
        for (found, z) in [(weeks.p10, Z_90), (weeks.p50, 0.0), (weeks.p90, -Z_90)] {
            let expected = by_bisection(mean, deviation, remaining, z);
            prop_assert!((found - expected).abs() <= 1e-9 * expected, "{found} {expected} at {z}");
        }
    }

    #[test]
    fn the_early_date_comes_first(
        mean in 0.0_f64..900.0, deviation in 0.0_f64..600.0, remaining in -10_i64..40_000,
        until in proptest::option::of(-30_i64..4_000),
    ) {
        let until = until.map(|days| TODAY.saturating_add(Span::new().days(days)));
        let left = Left { shots: Some(remaining), until, both: false };
        let far = i64::MAX;
        let [p10, p50, p90] = days(band(left, Some(&pace(mean, deviation)), TODAY))
            .map(|days| days.unwrap_or(far));
        prop_assert!(0 <= p10 && p10 <= p50 && p50 <= p90, "{p10} {p50} {p90}");
    }

    #[test]
    fn more_left_is_never_earlier(
        mean in 0.0_f64..900.0, deviation in 0.0_f64..600.0, remaining in -10_i64..40_000,
        more in 0_i64..5_000,
    ) {
        let pace = pace(mean, deviation);
        let dates = |left| {
            days(band(shots(left), Some(&pace), TODAY)).map(|days| days.unwrap_or(i64::MAX))
        };
        let (less, more) = (dates(remaining), dates(remaining + more));
        prop_assert!(less.iter().zip(more).all(|(less, more)| *less <= more), "{less:?} {more:?}");
    }
}
