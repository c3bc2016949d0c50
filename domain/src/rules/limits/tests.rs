//! Limits that are taken, and those that are refused, by their place.

use jiff::{Span, Timestamp, civil::date};
use uuid::Uuid;

use super::*;
use crate::{ids::RuleId, rules::default_book};

fn shots(plan: i64, retire: Option<i64>) -> AskedLimits {
    let shots = AskedShots { plan, retire, ..AskedShots::default() };
    AskedLimits { shots: Some(shots), ..AskedLimits::default() }
}

fn days(plan: Option<i64>, notice: i64, retire_months: Option<i64>) -> AskedLimits {
    let days = AskedDays { plan, notice, grace: 0, retire_months };
    AskedLimits { days: Some(days), ..AskedLimits::default() }
}

#[track_caller]
fn taken(kind: PartKind, task: RuleTask, asked: &AskedLimits) {
    assert_eq!(Limits::new(kind, task, asked).err(), None);
}

#[track_caller]
fn refused(kind: PartKind, task: RuleTask, asked: &AskedLimits, misfits: &[Misfit]) {
    assert_eq!(Limits::new(kind, task, asked).err().as_deref(), Some(misfits));
}

#[test]
fn every_rule_of_the_default_book_has_limits_that_may_be_set() {
    for rule in default_book(Timestamp::UNIX_EPOCH, || RuleId(Uuid::nil())) {
        let asked = AskedLimits::from(&rule.limits);
        assert_eq!(Limits::new(rule.part_kind, rule.task, &asked), Ok(rule.limits));
    }
}

#[test]
fn work_is_asked_for_only_where_it_is_done_and_counted() {
    use PartKind::{Bowstring, Cable, CenterServing, EndServing, NockingPoint};
    let kinds = |task: RuleTask| {
        let fits = PartKind::ALL.iter().copied().filter(|&kind| task.fits(kind));
        fits.collect::<Vec<_>>()
    };
    assert_eq!(kinds(RuleTask::Wax), [Bowstring, Cable]);
    assert_eq!(kinds(RuleTask::SettleIn), [Bowstring, Cable]);
    assert_eq!(kinds(RuleTask::ReServe), [CenterServing, EndServing]);
    for task in [RuleTask::CheckNockingPoint, RuleTask::CheckSettling, RuleTask::SightIn] {
        assert_eq!(kinds(task), [Bowstring], "{task}");
    }
    for task in [RuleTask::Change, RuleTask::Inspect] {
        assert_eq!(kinds(task), PartKind::ALL, "{task}");
    }
    refused(NockingPoint, RuleTask::Wax, &shots(5, None), &[(Place::Task, Fault::WrongTask)]);
}

#[test]
fn limits_in_shots_keep_their_order_and_bounds() {
    let wax = |asked: &AskedLimits, misfits: &[Misfit]| {
        refused(PartKind::Bowstring, RuleTask::Wax, asked, misfits);
    };
    taken(PartKind::Bowstring, RuleTask::Wax, &shots(1, Some(2)));
    taken(PartKind::Bowstring, RuleTask::Wax, &shots(MOST_SHOTS, None));
    let range = |least| Fault::OutOfRange { least, most: MOST_SHOTS };
    wax(&shots(0, None), &[(Place::PlanShots, range(1))]);
    wax(&shots(i64::MIN, None), &[(Place::PlanShots, range(1))]);
    wax(&shots(i64::MAX, None), &[(Place::PlanShots, range(1))]);
    wax(&shots(5, Some(5)), &[(Place::RetireShots, Fault::RetireNotAbove)]);
    let mut late = shots(5, None);
    late.shots = late.shots.map(|shots| AskedShots { notice: 5, grace: -1, ..shots });
    wax(&late, &[(Place::GraceShots, range(0)), (Place::NoticeShots, Fault::NoticeNotBelow)]);
    wax(&AskedLimits::default(), &[(Place::Shots, Fault::NoTrigger)]);
}

#[test]
fn limits_by_the_calendar_keep_their_order_and_bounds() {
    let change = |asked: &AskedLimits, misfits: &[Misfit]| {
        refused(PartKind::Limbs, RuleTask::Change, asked, misfits);
    };
    taken(PartKind::Limbs, RuleTask::Change, &days(Some(1), 0, Some(120)));
    taken(PartKind::Limbs, RuleTask::Change, &days(None, 60, Some(36)));
    taken(PartKind::Limbs, RuleTask::Change, &days(Some(27), 0, Some(1)));
    change(&days(Some(28), 0, Some(1)), &[(Place::RetireMonths, Fault::RetireNotAbove)]);
    change(&days(Some(10), 10, None), &[(Place::NoticeDays, Fault::NoticeNotBelow)]);
    change(&days(None, 28, Some(1)), &[(Place::NoticeDays, Fault::NoticeNotBelow)]);
    change(&days(None, 0, None), &[(Place::PlanDays, Fault::NoDays)]);
    let (days_range, months_range) = (
        Fault::OutOfRange { least: 1, most: MOST_DAYS },
        Fault::OutOfRange { least: 1, most: MOST_MONTHS },
    );
    change(&days(Some(3_651), 0, None), &[(Place::PlanDays, days_range)]);
    change(&days(None, 0, Some(121)), &[(Place::RetireMonths, months_range)]);
}

#[test]
fn no_months_have_fewer_days_than_are_reckoned_with() {
    let starts = || (0..1_461).map(|n| date(2027, 1, 1).saturating_add(Span::new().days(n)));
    for months in 1..=120 {
        let fewest = starts()
            .map(|from| {
                let to = from.saturating_add(Span::new().months(months));
                from.until(to).unwrap().get_days()
            })
            .min()
            .unwrap();
        let reckoned = fewest_days(months.try_into().unwrap()).cast_signed();
        // Leap days make up for the rest in ten years.
        assert!((fewest - 5..=fewest).contains(&reckoned), "{months}: {reckoned} of {fewest}");
    }
}

#[test]
fn settling_and_sighting_in_are_a_plan_and_nothing_else() {
    for task in [RuleTask::SettleIn, RuleTask::SightIn] {
        taken(PartKind::Bowstring, task, &shots(200, None));
        let all = AskedLimits {
            shots: Some(AskedShots { plan: 200, notice: 1, grace: 1, retire: Some(300) }),
            days: Some(AskedDays { plan: Some(3), ..AskedDays::default() }),
            checks_at: vec![0],
            ..AskedLimits::default()
        };
        let places =
            [Place::Days, Place::Checks, Place::NoticeShots, Place::GraceShots, Place::RetireShots];
        let misfits = places.map(|place| (place, Fault::NotForTask));
        refused(PartKind::Bowstring, task, &all, &misfits);
        let missing = [(Place::Shots, Fault::Missing)];
        refused(PartKind::Bowstring, task, &AskedLimits::default(), &missing);
    }
}

#[test]
fn a_settling_string_is_checked_at_counts_that_rise() {
    let at = |counts: &[i64]| AskedLimits { checks_at: counts.to_vec(), ..AskedLimits::default() };
    let check = |counts: &[i64], misfits: &[Misfit]| {
        refused(PartKind::Bowstring, RuleTask::CheckSettling, &at(counts), misfits);
    };
    taken(PartKind::Bowstring, RuleTask::CheckSettling, &at(&[0, 50, 100, 200]));
    check(&[], &[(Place::Checks, Fault::Missing)]);
    check(&[0, 50, 50], &[(Place::Check(2), Fault::NotRising)]);
    check(&[50, 0], &[(Place::Check(1), Fault::NotRising)]);
    let range = Fault::OutOfRange { least: 0, most: MOST_SHOTS };
    check(&[-1, 3], &[(Place::Check(0), range)]);
    let many: Vec<i64> = (0..21).collect();
    check(&many, &[(Place::Checks, Fault::TooMany)]);
    taken(PartKind::Bowstring, RuleTask::CheckSettling, &at(&many[..20]));
    let both = AskedLimits { checks_at: vec![3], ..shots(200, None) };
    let misfits = [(Place::Shots, Fault::NotForTask)];
    refused(PartKind::Bowstring, RuleTask::CheckSettling, &both, &misfits);
}

#[test]
fn very_many_shots_on_a_string_need_a_reason() {
    let (string, change) = (PartKind::Bowstring, RuleTask::Change);
    let at = |asked: &AskedLimits| {
        let retires = asked.shots.is_some_and(|shots| shots.retire.is_some());
        if retires { Place::RetireShots } else { Place::PlanShots }
    };
    let with_reason = |asked: AskedLimits| AskedLimits { overridden: true, ..asked };
    taken(string, change, &shots(15_000, Some(59_999)));
    taken(string, change, &shots(59_999, None));
    for asked in [shots(15_000, Some(60_000)), shots(60_000, None), shots(60_000, Some(70_000))] {
        refused(string, change, &asked, &[(at(&asked), Fault::NeedsOverride)]);
        taken(string, change, &with_reason(asked));
    }
    // Only a string's: cams outlive many of them.
    taken(PartKind::Cams, change, &shots(100_000, Some(200_000)));
    let nothing = [(Place::Override, Fault::NothingToOverride)];
    refused(string, change, &with_reason(shots(15_000, Some(30_000))), &nothing);
    refused(PartKind::Cams, change, &with_reason(shots(100_000, None)), &nothing);
}
