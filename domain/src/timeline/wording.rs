//! An entry of a timeline in words.

use super::{DayShots, Entry, Names, What};
use crate::{
    fittings::Host,
    ids::{BowId, PartId},
    incidents::Incident,
    rules::{Stop, grouped},
    text::Note,
    time::Zone,
    upkeep::{Grade, Upkeep, UpkeepTask},
};

/// Whose timeline it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Of {
    Part,
    Bow,
}

impl Entry {
    /// The entry as a line of a part's timeline.
    #[must_use]
    pub fn of_part_in_words(&self, names: &Names, zone: &Zone) -> String {
        self.words(Of::Part, names, zone)
    }

    /// The entry as a line of a bow's timeline.
    #[must_use]
    pub fn of_bow_in_words(&self, names: &Names, zone: &Zone) -> String {
        self.words(Of::Bow, names, zone)
    }

    fn words(&self, of: Of, names: &Names, zone: &Zone) -> String {
        match (&self.what, of) {
            (What::Made, _) => "made".to_owned(),
            (What::BroughtIn { shots }, _) => {
                format!("had {} from before its logs begin", counted((*shots).into(), "shot"))
            }
            (What::Fitted(stay), Of::Part) => format!("fitted to {}", names.host(stay.host)),
            (What::Fitted(stay), Of::Bow) => format!("{} fitted", names.part(stay.part_id)),
            (What::TakenOff(stay), Of::Part) => format!("taken off {}", names.host(stay.host)),
            (What::TakenOff(stay), Of::Bow) => format!("{} taken off", names.part(stay.part_id)),
            (What::Shots(day), of) => shots(*day, of, names),
            (What::Happened(incident), of) => happened(incident, of, names),
            (What::Worked(work), _) => worked(work),
            (What::Cleared(clearance), _) => {
                with_note("inspected as a whole and cleared".to_owned(), &clearance.reason)
            }
            (What::Stopped(stop), _) => format!("must not be shot: {}", named(*stop, zone)),
            (What::Lifted(stops), _) => {
                let all: Vec<String> = stops.iter().map(|stop| named(*stop, zone)).collect();
                format!("may be shot again, cleared of: {}", all.join(", "))
            }
            (What::Retired(end), _) => {
                format!("retired, {}: {}", end.end.as_str().replace('_', " "), end.reason)
            }
        }
    }
}

impl Names {
    fn bow(&self, bow: BowId) -> &str {
        self.bows.get(&bow).map_or("another bow", |name| name.as_str())
    }

    fn part(&self, part: PartId) -> String {
        let known = self.parts.get(&part);
        known.map_or_else(
            || "another part".to_owned(),
            |(kind, name)| format!("{} {name}", kind.label()),
        )
    }

    fn host(&self, host: Host) -> String {
        match host {
            Host::Bow(bow) => self.bow(bow).to_owned(),
            Host::Part(part) => self.part(part),
        }
    }
}

/// A count with what is counted.
fn counted(count: i64, of: &str) -> String {
    let several = if count == 1 { "" } else { "s" };
    format!("{} {of}{several}", grouped(count))
}

fn shots(day: DayShots, of: Of, names: &Names) -> String {
    let (shots, logs) = (counted(day.shots, "shot"), counted(day.logs.into(), "log"));
    let by_then = grouped(day.by_then);
    match of {
        Of::Part => format!(
            "{shots} in {logs} with {}; {by_then} in all by the end of the day",
            names.bow(day.bow)
        ),
        Of::Bow => format!("{shots} in {logs}; {by_then} in all by the end of the day"),
    }
}

/// What was noted of it is for those who know the bow.
fn happened(incident: &Incident, of: Of, names: &Names) -> String {
    let what = incident.kind.label();
    match of {
        Of::Bow => with_note(what.to_owned(), &incident.note),
        Of::Part if names.bows.contains_key(&incident.bow_id) => {
            with_note(format!("{what}, of {}", names.bow(incident.bow_id)), &incident.note)
        }
        Of::Part => format!("{what}, of another bow"),
    }
}

fn worked(work: &Upkeep) -> String {
    let done = match work.task {
        UpkeepTask::Inspected => inspected(work),
        UpkeepTask::NockingPointSet => measured("nocking point set", work),
        UpkeepTask::BraceHeightSet => measured("brace height set", work),
        UpkeepTask::Waxed | UpkeepTask::ReServed | UpkeepTask::Replaced | UpkeepTask::Other => {
            work.task.label().to_owned()
        }
    };
    with_note(done, &work.note)
}

fn inspected(work: &Upkeep) -> String {
    let found = work.findings.iter().filter(|(_, grade)| **grade > Grade::None);
    let found: Vec<String> =
        found.map(|(finding, grade)| format!("{} ({})", finding.label(), grade.label())).collect();
    let found = if found.is_empty() { "nothing found".to_owned() } else { found.join(", ") };
    let clears = if work.clears { ", and cleared" } else { "" };
    format!("inspected: {found}{clears}")
}

fn measured(done: &str, work: &Upkeep) -> String {
    work.measured_mm.map_or_else(|| done.to_owned(), |mm| format!("{done} at {mm} mm"))
}

fn named(stop: Stop, zone: &Zone) -> String {
    format!("{} on {}", stop.cause.label(), zone.date_of(stop.at))
}

/// A line with what somebody noted, on one line.
fn with_note(line: String, note: &Note) -> String {
    let words: Vec<&str> = note.as_str().split_whitespace().collect();
    if words.is_empty() { line } else { format!("{line}: {}", words.join(" ")) }
}
