//! What stands in a timeline, in which order, and in which words.

use jiff::civil::date;
use uuid::Uuid;

use super::*;
use crate::{
    fittings::Host,
    ids::{ClearanceId, FittingId, IncidentId, MemberId, UpkeepId},
    incidents::IncidentKind,
    ledger::Stretch,
    parts::{End, Part, Start},
    rules::{Clearing, clearings},
    text::Note,
    time::{Zone, parse_instant},
    upkeep::{Finding, Grade},
};

const BOW: BowId = BowId(Uuid::from_u128(1));
const STRING: PartId = PartId(Uuid::from_u128(10));
const NOBODY: MemberId = MemberId(Uuid::nil());

fn at(day: u8, hour: u8) -> Timestamp {
    parse_instant(&format!("2027-03-{day:02}T{hour:02}:00:00Z")).unwrap()
}

fn string() -> Part {
    Part {
        id: STRING,
        kind: PartKind::Bowstring,
        name: Name::of_ours("Blue 20-strand"),
        material: None,
        strands: None,
        made_on: Some(date(2027, 3, 1)),
        start: Some(Start { shots: 1_200, at: at(2, 8) }),
        unit_cost: None,
        retirement: None,
        created_at: at(1, 9),
    }
}

fn stay(from: Timestamp, to: Option<Timestamp>) -> Fitting {
    let id = FittingId(Uuid::nil());
    Fitting { id, part_id: STRING, host: Host::Bow(BOW), from, to, version: 1 }
}

fn look(day: u8, hour: u8, finding: Option<Grade>, clears: bool) -> Upkeep {
    let id = UpkeepId(Uuid::nil());
    let work = Upkeep::new(id, STRING, UpkeepTask::Inspected, at(day, hour), NOBODY);
    let findings = finding.map(|grade| (Finding::CutStrand, grade)).into_iter().collect();
    Upkeep { findings, clears, ..work }
}

fn dry_fire(at: Timestamp) -> Incident {
    Incident {
        id: IncidentId(Uuid::nil()),
        bow_id: BOW,
        kind: IncidentKind::DryFire,
        at,
        note: Note::parse("the nock\nbroke").unwrap(),
        entered_by: NOBODY,
        received_at: at,
    }
}

fn log(day: u8, hour: u8, shots: i64) -> Logged {
    Logged { bow_id: BOW, at: at(day, hour), shots }
}

fn names() -> Names {
    Names {
        bows: BTreeMap::from([(BOW, Name::of_ours("Blue recurve"))]),
        parts: BTreeMap::from([(STRING, (PartKind::Bowstring, Name::of_ours("Blue 20-strand")))]),
    }
}

/// The lines of a part's timeline.
fn lines(of: PartHistory<'_>, names: &Names) -> Vec<String> {
    let entries = of_part(of, &Zone::utc());
    let line = |one: &Entry| {
        format!("{} {}: {}", one.on, one.what.kind(), one.of_part_in_words(names, &Zone::utc()))
    };
    entries.iter().map(line).collect()
}

#[test]
fn a_string_is_made_shot_dry_fired_cleared_and_retired() {
    let retirement =
        Retirement { at: at(6, 18), end: End::FoundBad, reason: Name::of_ours("fuzzy") };
    let part = Part { retirement: Some(retirement), ..string() };
    let (fittings, stretches) = (
        [stay(at(2, 9), Some(at(6, 18)))],
        [Stretch { bow_id: BOW, from: at(2, 9), to: Some(at(6, 18)) }],
    );
    // One before it was fitted, one after it came off: neither counts.
    let logs = [log(2, 8, 1), log(2, 10, 30), log(2, 12, 42), log(3, 10, 6), log(6, 19, 9)];
    let works = [look(3, 12, Some(Grade::Light), false), look(4, 10, None, true)];
    let incidents = [dry_fire(at(3, 11))];
    let clearings = clearings(&stretches, &works);
    let of = PartHistory {
        part: &part,
        fittings: &fittings,
        stretches: &stretches,
        logs: &logs,
        works: &works,
        incidents: &incidents,
        clearings: &clearings,
    };
    let expected = [
        "2027-03-01 made: made",
        "2027-03-02 brought_in: had 1,200 shots from before its logs begin",
        "2027-03-02 fitted: fitted to Blue recurve",
        "2027-03-02 shots: 72 shots in 2 logs with Blue recurve; 1,272 in all by the end of the day",
        "2027-03-03 shots: 6 shots in 1 log with Blue recurve; 1,278 in all by the end of the day",
        "2027-03-03 incident: dry fire, of Blue recurve: the nock broke",
        "2027-03-03 stopped: must not be shot: dry fire on 2027-03-03",
        "2027-03-03 inspection: inspected: cut strand (light)",
        "2027-03-04 inspection: inspected: nothing found, and cleared",
        "2027-03-04 lifted: may be shot again, cleared of: dry fire on 2027-03-03",
        "2027-03-06 taken_off: taken off Blue recurve",
        "2027-03-06 retired: retired, found bad: fuzzy",
    ];
    assert_eq!(lines(of, &names()), expected);
    let unnamed = lines(of, &Names::default());
    assert!(unnamed.contains(&"2027-03-03 incident: dry fire, of another bow".to_owned()));
    assert!(unnamed.contains(&"2027-03-06 taken_off: taken off another bow".to_owned()));
}

/// The stops of a string that came under the bow on the fifth, after a dry fire on the third.
fn stops(works: &[Upkeep], clearings: &[Clearing]) -> Vec<String> {
    let part = Part { made_on: None, start: None, ..string() };
    let stretches = [Stretch { bow_id: BOW, from: at(5, 9), to: None }];
    let incidents = [dry_fire(at(3, 11))];
    let of = PartHistory {
        part: &part,
        fittings: &[],
        stretches: &stretches,
        logs: &[],
        works,
        incidents: &incidents,
        clearings,
    };
    let all = lines(of, &names()).into_iter();
    all.filter(|line| line.contains(" stopped:") || line.contains(" lifted:")).collect()
}

#[test]
fn a_part_that_came_later_is_stopped_from_when_it_came() {
    let stopped = "2027-03-05 stopped: must not be shot: dry fire on 2027-03-03";
    let lifted = "2027-03-06 lifted: may be shot again, cleared of: dry fire on 2027-03-03";
    assert_eq!(stops(&[], &[]), [stopped]);
    let cleared = |day| [Clearing { bow_id: BOW, at: at(day, 9), known_at: at(day, 9) }];
    assert_eq!(stops(&[], &cleared(4)), [""; 0], "the bow was cleared before it came");
    assert_eq!(stops(&[], &cleared(6)), [stopped]);
    assert_eq!(stops(&[look(6, 9, None, true)], &[]), [stopped, lifted]);
    assert_eq!(stops(&[look(4, 9, None, true)], &[]), [""; 0], "it was cleared in the case");
}

#[test]
fn a_bow_shows_its_parts_its_shots_and_what_cleared_it() {
    let clearance = BowClearance {
        id: ClearanceId(Uuid::nil()),
        bow_id: BOW,
        at: at(4, 10),
        reason: Note::parse("limbs sound").unwrap(),
        entered_by: NOBODY,
        received_at: at(4, 10),
    };
    let entries = of_bow(
        BowHistory {
            fittings: &[stay(at(2, 9), Some(at(4, 10)))],
            logs: &[log(2, 10, 1), log(3, 10, 1_500)],
            incidents: &[dry_fire(at(3, 11)), dry_fire(at(5, 11))],
            clearances: std::slice::from_ref(&clearance),
            clearings: &[clearance.clearing()],
        },
        &Zone::utc(),
    );
    let lines: Vec<String> =
        entries.iter().map(|one| one.of_bow_in_words(&names(), &Zone::utc())).collect();
    let expected = [
        "string Blue 20-strand fitted",
        "1 shot in 1 log; 1 in all by the end of the day",
        "1,500 shots in 1 log; 1,501 in all by the end of the day",
        "dry fire: the nock broke",
        "must not be shot: dry fire on 2027-03-03",
        "string Blue 20-strand taken off",
        "inspected as a whole and cleared: limbs sound",
        "may be shot again, cleared of: dry fire on 2027-03-03",
        "dry fire: the nock broke",
        "must not be shot: dry fire on 2027-03-05",
    ];
    assert_eq!(lines, expected);
}

#[test]
fn days_are_the_clubs() {
    let zone = Zone::parse("Pacific/Auckland").unwrap();
    let entries = of_bow(
        BowHistory {
            fittings: &[],
            // The second is past midnight there.
            logs: &[log(2, 10, 5), log(2, 11, 7)],
            incidents: &[],
            clearances: &[],
            clearings: &[],
        },
        &zone,
    );
    let days: Vec<(Date, i64)> = entries
        .iter()
        .map(|one| match one.what {
            What::Shots(day) => (one.on, day.by_then),
            _ => panic!("{one:?}"),
        })
        .collect();
    assert_eq!(days, [(date(2027, 3, 2), 5), (date(2027, 3, 3), 12)]);
}
