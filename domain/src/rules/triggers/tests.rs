//! Each trigger by itself, and several together.

use jiff::{SignedDuration, civil::date};
use uuid::Uuid;

use super::*;
use crate::{
    ids::RuleId,
    parts::{Part, PartKind},
    rules::{
        Ahead, AskedDays, AskedFinding, AskedLimits, AskedShots, Combine, Found, Happened, Limits,
        Provenance, Scope, Seen, judge,
    },
    text::Name,
    upkeep::{Finding, Grade, UpkeepTask},
};

const TODAY: Date = date(2027, 6, 1);

fn days_ago(days: i64) -> Timestamp {
    let noon = TODAY.to_datetime(jiff::civil::time(12, 0, 0, 0));
    let today = Zone::utc().instant(noon.date(), noon.time()).unwrap();
    today - SignedDuration::from_hours(24 * days)
}

fn rule(kind: PartKind, task: RuleTask, asked: &AskedLimits) -> Rule {
    Rule {
        id: RuleId(Uuid::nil()),
        part_kind: kind,
        task,
        scope: Scope::Club,
        limits: Limits::new(kind, task, asked).unwrap(),
        effective_on: None,
        version: 1,
        provenance: Provenance {
            set_at: Timestamp::UNIX_EPOCH,
            set_by: None,
            source: "a test".to_owned(),
        },
    }
}

/// A string that was waxed `waxed` days ago if ever, and shot since; it was fitted 100 days ago.
fn string(waxed: Option<i64>, shots: i64, seen: Seen) -> PartRecord {
    let part = Part::bare(PartKind::Bowstring);
    let since = Clock::Since(UpkeepTask::Waxed);
    PartRecord {
        readings: vec![
            Reading { clock: Clock::Life, shots, reset_at: None },
            Reading { clock: since, shots, reset_at: waxed.map(days_ago) },
        ],
        part,
        first_fitted_at: Some(days_ago(100)),
        changed_at: None,
        stop: None,
        under: None,
        seen,
    }
}

#[track_caller]
fn check(rule: &Rule, record: &PartRecord, condition: Condition, reason: &str) {
    let verdict = judge(rule, record, &Zone::utc(), TODAY).unwrap();
    assert_eq!((verdict.condition, verdict.reason.as_str()), (condition, reason));
}

fn found(grade: Grade, days: i64) -> Seen {
    let found = Found { finding: Finding::DryStrands, grade, at: days_ago(days) };
    Seen { found: vec![found], ..Seen::default() }
}

#[test]
fn a_finding_asks_for_the_work_until_that_is_done() {
    let any_of = [Finding::DryStrands, Finding::FuzzyStrands].into();
    let finding = Some(AskedFinding { any_of, from_grade: 2 });
    let wax = rule(
        PartKind::Bowstring,
        RuleTask::Wax,
        &AskedLimits { finding, ..AskedLimits::default() },
    );
    let nothing = "nothing found; asks from grade 2";
    check(&wax, &string(None, 0, Seen::default()), Condition::Sound, nothing);
    let light = "dry strands graded 1 on 2027-05-29; asks from grade 2";
    check(&wax, &string(None, 0, found(Grade::Light, 3)), Condition::Sound, light);
    let marked = "dry strands graded 2 on 2027-05-29; asks from grade 2";
    check(&wax, &string(Some(5), 0, found(Grade::Marked, 3)), Condition::Due, marked);
    check(&wax, &string(Some(3), 0, found(Grade::Marked, 3)), Condition::Sound, nothing);
    let uneven = Seen {
        found: vec![Found {
            finding: Finding::UnevenColour,
            grade: Grade::Marked,
            at: days_ago(3),
        }],
        ..Seen::default()
    };
    check(&wax, &string(None, 0, uneven), Condition::Sound, nothing);
}

#[test]
fn an_incident_asks_for_the_work_until_that_is_done() {
    let incidents = [IncidentKind::Soaked].into();
    let asked = AskedLimits { incidents, ..AskedLimits::default() };
    let wax = rule(PartKind::Bowstring, RuleTask::Wax, &asked);
    let soaked = || Seen {
        happened: vec![
            Happened { kind: IncidentKind::Soaked, at: days_ago(4) },
            Happened { kind: IncidentKind::Overheated, at: days_ago(1) },
        ],
        ..Seen::default()
    };
    let due = "soaking on 2027-05-28, and not waxed since";
    check(&wax, &string(Some(10), 0, soaked()), Condition::Due, due);
    check(&wax, &string(Some(4), 0, soaked()), Condition::Sound, "no soaking on record");
    let verdict = judge(&wax, &string(None, 0, soaked()), &Zone::utc(), TODAY).unwrap();
    assert_eq!(
        (verdict.trigger, verdict.count, verdict.left.shots),
        (Trigger::Incident, 1, Some(0))
    );
}

#[test]
fn where_all_triggers_have_to_come_the_least_urgent_decides() {
    let shots = Some(AskedShots { plan: 500, notice: 100, grace: 100, retire: None });
    let days = Some(AskedDays { plan: Some(14), notice: 3, grace: 3, retire_months: None });
    let asked = AskedLimits { shots, days, ..AskedLimits::default() };
    let first = rule(PartKind::Bowstring, RuleTask::Wax, &asked);
    let asked = AskedLimits { combine: Combine::All, ..asked };
    let all = rule(PartKind::Bowstring, RuleTask::Wax, &asked);
    let many = string(Some(5), 620, Seen::default());
    check(&first, &many, Condition::Overdue, "620 shots since last waxed; plan 500");
    let both = "620 shots since last waxed; plan 500, and 5 days since last waxed; plan 14";
    check(&all, &many, Condition::Sound, both);
    let left = judge(&all, &many, &Zone::utc(), TODAY).unwrap().left;
    assert_eq!(left, Left { shots: Some(-120), until: Some(date(2027, 6, 10)), both: true });
    let late = string(Some(16), 620, Seen::default());
    let both = "620 shots since last waxed; plan 500, and 16 days since last waxed; plan 14";
    check(&all, &late, Condition::Due, both);
    // What cannot be counted yet keeps it silent.
    let never_fitted = PartRecord { first_fitted_at: None, ..string(None, 620, Seen::default()) };
    assert_eq!(judge(&all, &never_fitted, &Zone::utc(), TODAY), None);
}

#[test]
fn work_that_will_be_due_at_the_next_event_is_announced_for_it() {
    let shots = Some(AskedShots { plan: 500, ..AskedShots::default() });
    let asked = AskedLimits { shots, event_notice_days: Some(14), ..AskedLimits::default() };
    let wax = rule(PartKind::Bowstring, RuleTask::Wax, &asked);
    let ahead = |starts_on: Date, shots_by_end: i64| {
        let ends_on = starts_on.tomorrow().unwrap();
        let name = Name::of_ours("Invented Cup");
        Seen { ahead: Some(Ahead { name, starts_on, ends_on, shots_by_end }), ..Seen::default() }
    };
    let quiet = "300 shots since last waxed; plan 500";
    let sound = |seen| check(&wax, &string(Some(5), 300, seen), Condition::Sound, quiet);
    sound(Seen::default());
    sound(ahead(date(2027, 6, 15), 199));
    sound(ahead(date(2027, 6, 16), 200));
    let words = "300 shots since last waxed; plan 500; will be due before Invented Cup is over, which \
                 begins on 2027-06-15: 200 shots are expected until its end";
    let soon = string(Some(5), 300, ahead(date(2027, 6, 15), 200));
    check(&wax, &soon, Condition::Nearing, words);
    assert_eq!(judge(&wax, &soon, &Zone::utc(), TODAY).unwrap().trigger, Trigger::Event);
    // What is due already says so itself.
    let due = string(Some(5), 500, ahead(date(2027, 6, 15), 200));
    check(&wax, &due, Condition::Due, "500 shots since last waxed; plan 500");
}
