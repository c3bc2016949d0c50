//! What bows need before an invented cup, reckoned by hand.

use jiff::{Timestamp, civil::date};
use uuid::Uuid;

use super::*;
use crate::{
    events::{EventDates, Priority},
    ids::{EventId, MemberId},
};

/// A Tuesday, eleven days before the cup.
const TODAY: Date = Date::constant(2027, 6, 1);

/// A Saturday and Sunday of 144 arrows.
fn cup(priority: Priority, blocked: &[Date]) -> Event {
    Event {
        id: EventId(Uuid::nil()),
        name: Name::of_ours("invented cup"),
        dates: EventDates::new(date(2027, 6, 12), date(2027, 6, 13)).unwrap(),
        priority,
        arrows_expected: 144,
        blocked_days: blocked.iter().copied().collect(),
        version: 1,
        cancelled_at: None,
        created_by: MemberId(Uuid::nil()),
        created_at: Timestamp::UNIX_EPOCH,
        changed_at: Timestamp::UNIX_EPOCH,
    }
}

fn verdict(task: RuleTask, condition: Condition, shots: Option<i64>) -> PartVerdict {
    PartVerdict {
        part: PartId(Uuid::nil()),
        kind: PartKind::Bowstring,
        name: Name::of_ours("blue"),
        task,
        condition,
        left: Left { shots, ..Left::default() },
        reason: "reason".to_owned(),
    }
}

fn pace(mean: f64) -> Pace {
    Pace { weeks: 12, mean_shots_per_week: mean, variance_per_week: 0.0 }
}

fn needs(event: &Event, verdicts: &[PartVerdict], mean: Option<f64>, today: Date) -> Needs {
    let pace = mean.map(pace);
    let shooting = Shooting { pace: pace.as_ref(), settle_in_shots: 200, sight_in_shots: 72 };
    before_event(event, verdicts, shooting, today)
}

fn check_change(event: &Event, mean: Option<f64>, today: Date, on: Option<Date>, late: bool) {
    let found = needs(event, &[], mean, today);
    assert_eq!((found.last_change_on, found.too_late_to_change), (on, late), "{event:?} {mean:?}");
}

#[test]
fn a_change_leaves_time_to_settle_and_to_sight_in() {
    let major = cup(Priority::Major, &[]);
    // 272 / 360 weeks are 5.29 days: six days before 12 June.
    check_change(&major, Some(360.0), TODAY, Some(date(2027, 6, 6)), false);
    check_change(&cup(Priority::Regular, &[]), Some(360.0), TODAY, Some(date(2027, 6, 6)), false);
    // 272 / 272 weeks are seven days to the day; one shot a week less takes an eighth.
    check_change(&major, Some(272.0), TODAY, Some(date(2027, 6, 5)), false);
    check_change(&major, Some(271.0), TODAY, Some(date(2027, 6, 4)), false);
    // At 10,000 a week it is less than a day, and still the day before at the latest.
    check_change(&major, Some(10_000.0), TODAY, Some(date(2027, 6, 11)), false);
}

#[test]
fn nothing_is_changed_on_a_blocked_day() {
    let blocked = [date(2027, 6, 4), date(2027, 6, 5), date(2027, 6, 6), date(2027, 6, 9)];
    let major = cup(Priority::Major, &blocked);
    check_change(&major, Some(360.0), TODAY, Some(date(2027, 6, 3)), false);
    // From the 4th on the 3rd is over, although the 7th is not blocked.
    check_change(&major, Some(360.0), date(2027, 6, 3), Some(date(2027, 6, 3)), false);
    check_change(&major, Some(360.0), date(2027, 6, 4), None, true);
}

#[test]
fn a_minor_event_wants_no_settled_bow() {
    let minor = cup(Priority::Minor, &[]);
    check_change(&minor, Some(10.0), date(2027, 6, 11), Some(date(2027, 6, 11)), false);
    check_change(&minor, None, TODAY, Some(date(2027, 6, 11)), false);
    check_change(
        &cup(Priority::Minor, &[date(2027, 6, 11)]),
        None,
        TODAY,
        Some(date(2027, 6, 10)),
        false,
    );
    check_change(&minor, None, date(2027, 6, 12), None, true);
}

#[test]
fn too_slow_is_too_late_and_no_rate_is_unknown() {
    let major = cup(Priority::Major, &[]);
    // 272 / 170 weeks are 11.2 days, twelve: 31 May, which was yesterday.
    check_change(&major, Some(170.0), TODAY, None, true);
    check_change(&major, Some(0.001), TODAY, None, true);
    check_change(&major, None, TODAY, None, false);
    check_change(&major, Some(0.0), TODAY, None, false);
    // On its first day it is too late whatever the rate.
    check_change(&major, None, date(2027, 6, 12), None, true);
}

fn only(event: &Event, verdict: PartVerdict, mean: Option<f64>, today: Date) -> Option<Need> {
    let mut found = needs(event, &[verdict], mean, today);
    assert!(found.works.len() <= 1);
    found.works.pop()
}

#[test]
fn work_that_will_be_due_before_the_event_is_over_is_needed() {
    let major = cup(Priority::Major, &[]);
    let wax = |left| verdict(RuleTask::Wax, Condition::Sound, Some(left));
    // From 1 to 13 June are 12 days: at 350 a week, 600 shots. With 144 arrows besides, 744.
    let needed = only(&major, wax(744), Some(350.0), TODAY).unwrap();
    assert_eq!((needed.by, needed.too_late), (date(2027, 6, 11), false));
    assert_eq!(
        needed.why,
        "reason; due about 2027-06-13 at the recent rate, with 144 arrows at the event"
    );
    assert_eq!(only(&major, wax(745), Some(350.0), TODAY), None);
    // The event's arrows alone use up 144, at no rate at all.
    assert!(only(&major, wax(144), None, TODAY).is_some());
    assert_eq!(only(&major, wax(145), None, TODAY), None);
    assert_eq!(only(&major, verdict(RuleTask::Wax, Condition::Sound, None), None, TODAY), None);
}

#[test]
fn the_calendar_asks_for_work_too() {
    let major = cup(Priority::Major, &[]);
    let until = |day| PartVerdict {
        left: Left { shots: Some(9_000), until: Some(day), both: false },
        ..verdict(RuleTask::Inspect, Condition::Sound, None)
    };
    let needed = only(&major, until(date(2027, 6, 13)), Some(350.0), TODAY).unwrap();
    assert_eq!(needed.why, "reason; due on 2027-06-13 by the calendar");
    assert_eq!(only(&major, until(date(2027, 6, 14)), Some(350.0), TODAY), None);
}

#[test]
fn what_is_due_now_is_needed_whatever_the_rate() {
    let major = cup(Priority::Major, &[]);
    for condition in [Condition::Nearing, Condition::Due, Condition::Overdue] {
        let wax = verdict(RuleTask::Wax, condition, Some(9_000));
        let needed = only(&major, wax, None, TODAY).unwrap();
        // What is due already does not wait for the day before the event.
        let by = if condition == Condition::Nearing { date(2027, 6, 11) } else { TODAY };
        assert_eq!((needed.condition, needed.by), (condition, by));
        assert_eq!(needed.why, "reason");
    }
    // While the event goes on, the day before it is over: it is for today.
    let wax = verdict(RuleTask::Wax, Condition::Due, Some(0));
    assert_eq!(only(&major, wax, None, date(2027, 6, 13)).unwrap().by, date(2027, 6, 13));
}

#[test]
fn a_change_is_made_by_the_last_day_for_it_or_not_at_all() {
    let major = cup(Priority::Major, &[]);
    for task in [RuleTask::Change, RuleTask::ReServe] {
        let due = verdict(task, Condition::Due, Some(0));
        let needed = only(&major, due.clone(), Some(360.0), TODAY).unwrap();
        assert_eq!((needed.by, needed.too_late), (date(2027, 6, 6), false));
        assert_eq!(needed.why, "reason");
        let late = only(&major, due.clone(), Some(360.0), date(2027, 6, 7)).unwrap();
        assert_eq!((late.by, late.too_late), (date(2027, 6, 6), true));
        let words =
            "reason; too late to settle in: leave it unless unsafe; take a spare that is shot in";
        assert_eq!(late.why, words);
        let minor = cup(Priority::Minor, &[]);
        let needed = only(&minor, due.clone(), Some(360.0), date(2027, 6, 7)).unwrap();
        assert_eq!((needed.by, needed.too_late), (date(2027, 6, 11), false));
        let unknown = only(&cup(Priority::Major, &[TODAY]), due, None, TODAY).unwrap();
        assert_eq!((unknown.by, unknown.too_late), (date(2027, 6, 2), false));
        let words = "reason; no recent shooting to reckon the settling in by";
        assert_eq!(unknown.why, words);
    }
}

#[test]
fn what_must_not_be_shot_is_never_left_as_it_is() {
    let major = cup(Priority::Major, &[]);
    let unsafe_now = verdict(RuleTask::Change, Condition::DoNotShoot, Some(0));
    let needed = only(&major, unsafe_now, Some(360.0), date(2027, 6, 10)).unwrap();
    assert_eq!((needed.by, needed.too_late), (date(2027, 6, 10), false));
    assert_eq!(needed.why, "reason");
}

#[test]
fn a_string_that_will_not_have_settled_is_named() {
    let major = cup(Priority::Major, &[]);
    let settling = |left| verdict(RuleTask::SettleIn, Condition::Settling, Some(left));
    // Ten days to 11 June at 350 a week are 500 shots, of which 72 are for sighting in.
    assert_eq!(only(&major, settling(428), Some(350.0), TODAY), None);
    let needed = only(&major, settling(429), Some(350.0), TODAY).unwrap();
    assert_eq!((needed.by, needed.too_late), (date(2027, 6, 11), false));
    assert_eq!(needed.why, "reason; not settled and sighted in before the event yet");
    assert!(only(&major, settling(1), None, TODAY).is_some());
    assert_eq!(only(&cup(Priority::Minor, &[]), settling(429), Some(350.0), TODAY), None);
    let settled = verdict(RuleTask::SettleIn, Condition::Sound, Some(-5));
    assert_eq!(only(&major, settled, Some(350.0), TODAY), None);
}

#[test]
fn works_come_by_their_day_and_then_by_urgency() {
    let verdicts = [
        verdict(RuleTask::Wax, Condition::Nearing, Some(10)),
        verdict(RuleTask::Inspect, Condition::Overdue, Some(0)),
        verdict(RuleTask::Change, Condition::Nearing, Some(10)),
    ];
    let found = needs(&cup(Priority::Major, &[]), &verdicts, Some(360.0), TODAY);
    let order: Vec<RuleTask> = found.works.iter().map(|work| work.task).collect();
    assert_eq!(order, [RuleTask::Inspect, RuleTask::Change, RuleTask::Wax]);
}

#[test]
fn an_event_that_is_over_or_called_off_needs_nothing() {
    let overdue = verdict(RuleTask::Change, Condition::Overdue, Some(0));
    let major = cup(Priority::Major, &[]);
    let over = needs(&major, std::slice::from_ref(&overdue), Some(360.0), date(2027, 6, 14));
    assert_eq!(over, Needs::default());
    let off = Event { cancelled_at: Some(Timestamp::UNIX_EPOCH), ..major };
    assert_eq!(needs(&off, &[overdue], Some(360.0), TODAY), Needs::default());
}

#[test]
fn work_that_is_announced_is_wanted_before_the_event_only_if_it_is_due_by_then() {
    let major = cup(Priority::Major, &[]);
    let asked = |left, mean| {
        let soon = verdict(RuleTask::Change, Condition::Nearing, Some(left));
        needs(&major, &[soon], mean, TODAY).works.into_iter().map(|need| need.why).next()
    };
    // At 360 a week and with 144 arrows at the event: 600 shots are reached on 10 June, 1,500 in July.
    let why = "reason; due about 2027-06-10 at the recent rate, with 144 arrows at the event";
    assert_eq!(asked(600, Some(360.0)).as_deref(), Some(why));
    assert_eq!(asked(1_500, Some(360.0)), None);
    // Without a rate nobody can tell, and what is announced is said.
    let why = asked(1_500, None).unwrap();
    assert!(why.starts_with("reason"), "{why}");
}
