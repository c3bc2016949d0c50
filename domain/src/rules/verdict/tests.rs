//! Each rule of the default book on both sides of each of its limits.

use jiff::{SignedDuration, Timestamp, civil::date};
use uuid::Uuid;

use super::*;
use crate::{
    ledger::{Clock, Reading},
    parts::{Part, PartKind},
    rules::{Seen, default_book},
    upkeep::UpkeepTask,
};

fn rule(kind: PartKind, task: RuleTask) -> Rule {
    default_book(Timestamp::UNIX_EPOCH, || RuleId(Uuid::nil()))
        .into_iter()
        .find(|rule| rule.part_kind == kind && rule.task == task)
        .unwrap()
}

const TODAY: Date = date(2027, 6, 1);

fn days_ago(days: i64) -> Timestamp {
    let noon = TODAY.to_datetime(jiff::civil::time(12, 0, 0, 0));
    let today = Zone::utc().instant(noon.date(), noon.time()).unwrap();
    today - SignedDuration::from_hours(24 * days)
}

/// A part whose clocks all show the same, fitted on the first day and set back `days` ago.
fn record(kind: PartKind, shots: i64, days: i64) -> PartRecord {
    let part = Part::bare(kind);
    let reset_at = Some(days_ago(days));
    let reading = |&clock: &Clock| Reading {
        clock,
        shots,
        reset_at: reset_at.filter(|_| clock != Clock::Life),
    };
    PartRecord {
        readings: kind.clocks().iter().map(reading).collect(),
        part,
        first_fitted_at: reset_at,
        changed_at: None,
        stop: None,
        under: None,
        seen: Seen::default(),
    }
}

fn check_record(rule: &Rule, record: &PartRecord, condition: Condition, reason: &str) {
    let verdict = judge(rule, record, &Zone::utc(), TODAY).unwrap();
    assert_eq!((verdict.condition, verdict.reason.as_str()), (condition, reason));
}

fn check(rule: &Rule, shots: i64, days: i64, condition: Condition, reason: &str) {
    check_record(rule, &record(rule.part_kind, shots, days), condition, reason);
}

#[test]
fn waxing_comes_by_shots_or_by_days_whichever_is_first() {
    let wax = rule(PartKind::Bowstring, RuleTask::Wax);
    check(&wax, 399, 0, Condition::Sound, "399 shots since last waxed; plan 500");
    check(&wax, 400, 0, Condition::Nearing, "400 shots since last waxed; plan 500");
    check(&wax, 500, 0, Condition::Due, "500 shots since last waxed; plan 500");
    check(&wax, 600, 0, Condition::Due, "600 shots since last waxed; plan 500");
    check(&wax, 601, 0, Condition::Overdue, "601 shots since last waxed; plan 500");
    check(&wax, 10, 11, Condition::Nearing, "11 days since last waxed; plan 14");
    check(&wax, 10, 14, Condition::Due, "14 days since last waxed; plan 14");
    check(&wax, 10, 18, Condition::Overdue, "18 days since last waxed; plan 14");
    check(&wax, 550, 14, Condition::Due, "550 shots since last waxed; plan 500");
}

#[test]
fn what_is_left_is_told_by_shots_and_by_the_calendar() {
    let wax = rule(PartKind::Bowstring, RuleTask::Wax);
    let verdict = judge(&wax, &record(PartKind::Bowstring, 120, 4), &Zone::utc(), TODAY).unwrap();
    assert_eq!(
        verdict.left,
        Left { shots: Some(380), until: Some(date(2027, 6, 11)), both: false }
    );
    let change = rule(PartKind::Bowstring, RuleTask::Change);
    let verdict = judge(&change, &record(PartKind::Bowstring, 0, 0), &Zone::utc(), TODAY).unwrap();
    assert_eq!(
        verdict.left,
        Left { shots: Some(15_000), until: Some(date(2030, 6, 1)), both: false }
    );
}

#[test]
fn a_serving_is_inspected_and_in_the_end_wound_anew() {
    let inspect = rule(PartKind::CenterServing, RuleTask::Inspect);
    check(&inspect, 850, 29, Condition::Nearing, "850 shots since last inspected; plan 1,000");
    check(&inspect, 0, 29, Condition::Sound, "0 shots since last inspected; plan 1,000");
    check(&inspect, 0, 30, Condition::Due, "30 days since last inspected; plan 30");
    let re_serve = rule(PartKind::CenterServing, RuleTask::ReServe);
    check(&re_serve, 2_699, 400, Condition::Sound, "2,699 shots in all; plan 3,000");
    check(&re_serve, 2_700, 0, Condition::Nearing, "2,700 shots in all; plan 3,000");
    check(&re_serve, 3_601, 0, Condition::Overdue, "3,601 shots in all; plan 3,000");
}

#[test]
fn a_string_is_planned_at_15000_and_retired_at_30000_or_36_months() {
    let change = rule(PartKind::Bowstring, RuleTask::Change);
    let shots = |count: &str| format!("{count} shots in all; plan 15,000, retire at 30,000");
    check(&change, 13_499, 0, Condition::Sound, &shots("13,499"));
    check(&change, 13_500, 0, Condition::Nearing, &shots("13,500"));
    check(&change, 15_000, 0, Condition::Due, &shots("15,000"));
    check(&change, 29_999, 0, Condition::Due, &shots("29,999"));
    check(&change, 30_000, 0, Condition::Overdue, &shots("30,000"));
    // 2024-06-01 to 2027-06-01 holds no 29 February: 1,095 days.
    let words = "1,095 days since first fitted; retire at 36 months";
    check(&change, 100, 1_095, Condition::Overdue, words);
}

#[test]
fn a_nocking_point_is_checked_by_count_by_calendar_and_after_a_change() {
    let rule = rule(PartKind::Bowstring, RuleTask::CheckNockingPoint);
    check(&rule, 849, 29, Condition::Sound, "849 shots since last set; plan 1,000");
    check(&rule, 1_000, 0, Condition::Due, "1,000 shots since last set; plan 1,000");
    check(&rule, 0, 37, Condition::Overdue, "37 days since last set; plan 30");
    let changed = |days| {
        let changed_at = Some(days_ago(days));
        PartRecord { changed_at, ..record(PartKind::Bowstring, 10, 5) }
    };
    let words = "string or serving changed on 2027-05-28, and not set since";
    check_record(&rule, &changed(4), Condition::Due, words);
    let words = "10 shots since last set; plan 1,000";
    check_record(&rule, &changed(5), Condition::Sound, words);
    check_record(&rule, &changed(6), Condition::Sound, words);
}

/// A string of so many shots that was last measured at a count, or never.
fn settling(life: i64, checked_at: Option<i64>) -> PartRecord {
    let mut record = record(PartKind::Bowstring, life, 3);
    for reading in &mut record.readings {
        if reading.clock == Clock::Since(UpkeepTask::BraceHeightSet) {
            reading.reset_at = checked_at.map(|_| days_ago(1));
            reading.shots = life - checked_at.unwrap_or(0);
        }
    }
    record
}

#[test]
fn a_settling_string_is_measured_at_0_50_100_and_200_shots() {
    let rule = rule(PartKind::Bowstring, RuleTask::CheckSettling);
    for (life, checked_at, due, left) in [
        (0, None, true, Some(0)),
        (0, Some(0), false, Some(50)),
        (49, Some(0), false, Some(1)),
        (50, Some(0), true, Some(0)),
        (72, Some(49), true, Some(-22)),
        (72, Some(50), false, Some(28)),
        (130, Some(72), true, Some(-30)),
        (199, Some(130), false, Some(1)),
        (200, Some(130), true, Some(0)),
        (399, Some(130), true, Some(-199)),
        (399, Some(200), false, None),
    ] {
        let verdict = judge(&rule, &settling(life, checked_at), &Zone::utc(), TODAY).unwrap();
        let condition = if due { Condition::Due } else { Condition::Sound };
        let found = (verdict.condition, verdict.left.shots);
        assert_eq!(found, (condition, left), "{life} shots, checked at {checked_at:?}");
    }
    assert_eq!(judge(&rule, &settling(400, None), &Zone::utc(), TODAY), None);
    let words = "72 shots on it; check at 0, 50, 100, 200; last checked at 49";
    check_record(&rule, &settling(72, Some(49)), Condition::Due, words);
}

#[test]
fn a_string_settles_for_200_shots() {
    let rule = rule(PartKind::Bowstring, RuleTask::SettleIn);
    check(&rule, 0, 0, Condition::Settling, "0 of 200 settle-in shots");
    check(&rule, 199, 9, Condition::Settling, "199 of 200 settle-in shots");
    check(&rule, 200, 9, Condition::Sound, "settled: 200 shots, trusted from 200");
    let never_fitted = PartRecord { first_fitted_at: None, ..record(PartKind::Bowstring, 0, 0) };
    assert_eq!(judge(&rule, &never_fitted, &Zone::utc(), TODAY), None);
}

#[test]
fn work_that_is_not_on_record_counts_the_whole_life() {
    let wax = rule(PartKind::Bowstring, RuleTask::Wax);
    let mut never = record(PartKind::Bowstring, 12_345, 0);
    never.readings.iter_mut().for_each(|reading| reading.reset_at = None);
    never.first_fitted_at = None;
    check_record(&wax, &never, Condition::Overdue, "12,345 shots and never waxed; plan 500");
}
