//! From what is on record to the entries of a timeline. It words nothing.

use std::collections::BTreeMap;

use jiff::{
    Timestamp,
    civil::{Date, Time},
};

use super::{DayShots, Entry, What};
use crate::{
    clearances::BowClearance,
    fittings::Fitting,
    ids::BowId,
    incidents::Incident,
    ledger::Stretch,
    parts::Part,
    rules::{BowStop, Clearing, History, Stop, bow_cleared_at, causes},
    time::Zone,
    upkeep::Upkeep,
};

/// A log as far as a timeline needs it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Logged {
    /// With which bow.
    pub bow_id: BowId,
    /// When.
    pub at: Timestamp,
    /// How many shots.
    pub shots: i64,
}

/// What is on record of a part.
#[derive(Debug, Clone, Copy)]
pub struct PartHistory<'a> {
    /// The part.
    pub part: &'a Part,
    /// All its fittings.
    pub fittings: &'a [Fitting],
    /// When and under which bows it hung.
    pub stretches: &'a [Stretch],
    /// Every log that counts of those bows.
    pub logs: &'a [Logged],
    /// All work on it.
    pub works: &'a [Upkeep],
    /// All incidents of those bows.
    pub incidents: &'a [Incident],
    /// When those bows were cleared.
    pub clearings: &'a [Clearing],
}

/// What is on record of a bow.
#[derive(Debug, Clone, Copy)]
pub struct BowHistory<'a> {
    /// Every fitting to the bow itself.
    pub fittings: &'a [Fitting],
    /// Every log of it that counts.
    pub logs: &'a [Logged],
    /// All its incidents.
    pub incidents: &'a [Incident],
    /// The inspections of it as a whole.
    pub clearances: &'a [BowClearance],
    /// When it was cleared, by those and by inspections of parts under it.
    pub clearings: &'a [Clearing],
}

/// The entries that were found so far.
struct Found<'a> {
    zone: &'a Zone,
    entries: Vec<Entry>,
}

/// Everything that happened to a part, oldest first.
///
/// Shots are one entry for each date of the club and each bow, with the part's shots by the end of that
/// date by the formula of [`crate::ledger::count`]. A stop is an entry from when it forbade shooting the
/// part; what lifted it is one where an inspection did.
#[must_use]
pub fn of_part(of: PartHistory<'_>, zone: &Zone) -> Vec<Entry> {
    let mut found = Found { zone, entries: Vec::new() };
    if let Some(on) = of.part.made_on {
        let at = zone.instant(on, Time::midnight()).unwrap_or(of.part.created_at);
        found.entries.push(Entry { at, on, what: What::Made });
    }
    if let Some(start) = of.part.start {
        found.add(start.at, What::BroughtIn { shots: start.shots });
    }
    found.stays(of.fittings);
    found.shots(
        of.logs.iter().copied().filter(|log| counts(of, log)),
        of.part.start.map_or(0, |start| i64::from(start.shots)),
    );
    for work in of.works {
        found.add(work.at, What::Worked(work.clone()));
    }
    for incident in of.incidents.iter().filter(|incident| was_under(of, incident)) {
        found.add(incident.at, What::Happened(incident.clone()));
    }
    found.stops(&stops_of_part(of));
    if let Some(retirement) = &of.part.retirement {
        found.add(retirement.at, What::Retired(retirement.clone()));
    }
    found.in_order()
}

/// Everything that happened to a bow, oldest first: what was fitted to it and taken off, its shots, its
/// incidents, and what lifted them.
#[must_use]
pub fn of_bow(of: BowHistory<'_>, zone: &Zone) -> Vec<Entry> {
    let mut found = Found { zone, entries: Vec::new() };
    found.stays(of.fittings);
    found.shots(of.logs.iter().copied(), 0);
    for incident in of.incidents {
        found.add(incident.at, What::Happened(incident.clone()));
    }
    for clearance in of.clearances {
        found.add(clearance.at, What::Cleared(clearance.clone()));
    }
    let stopped = of.incidents.iter().filter_map(|incident| {
        let stop = BowStop::of(incident)?.stop;
        Some(Stopped { stop, since: stop.at, lifted: bow_cleared_at(incident, of.clearings) })
    });
    found.stops(&stopped.collect::<Vec<_>>());
    found.in_order()
}

/// Whether a log counts for the part.
fn counts(of: PartHistory<'_>, log: &Logged) -> bool {
    let here = |stretch: &Stretch| stretch.bow_id == log.bow_id && stretch.covers(log.at);
    of.part.start.is_none_or(|start| log.at >= start.at) && of.stretches.iter().any(here)
}

/// Whether the part was under the bow of an incident when it happened.
fn was_under(of: PartHistory<'_>, incident: &Incident) -> bool {
    let here = |stretch: &Stretch| stretch.bow_id == incident.bow_id && stretch.covers(incident.at);
    of.stretches.iter().any(here)
}

/// A stop, from when on it held, and when it was lifted.
#[derive(Debug, Clone, Copy)]
struct Stopped {
    stop: Stop,
    since: Timestamp,
    lifted: Option<Timestamp>,
}

/// What ever forbade shooting a part. What was lifted before it could is left out.
fn stops_of_part(of: PartHistory<'_>) -> Vec<Stopped> {
    let PartHistory { stretches, incidents, clearings, works: inspections, .. } = of;
    let all = causes(History { stretches, inspections, incidents, clearings });
    let cleared = || inspections.iter().filter(|work| work.clears).map(|work| work.at);
    let mut found: Vec<Stopped> = all
        .into_iter()
        .map(|cause| Stopped {
            stop: cause.stop,
            since: cause.since,
            lifted: cleared().filter(|at| *at >= cause.stop.at).min(),
        })
        .filter(|one| one.lifted.is_none_or(|lifted| lifted >= one.since))
        .collect();
    found.sort_by_key(|one| (one.since, one.stop));
    found
}

impl Found<'_> {
    fn add(&mut self, at: Timestamp, what: What) {
        self.entries.push(Entry { at, on: self.zone.date_of(at), what });
    }

    fn stays(&mut self, fittings: &[Fitting]) {
        for stay in fittings {
            self.add(stay.from, What::Fitted(*stay));
            if let Some(to) = stay.to {
                self.add(to, What::TakenOff(*stay));
            }
        }
    }

    fn shots(&mut self, logs: impl Iterator<Item = Logged>, before: i64) {
        let mut days = BTreeMap::<Date, BTreeMap<BowId, (Timestamp, i64, u32)>>::new();
        for log in logs {
            let of_day = days.entry(self.zone.date_of(log.at)).or_default();
            let (last, shots, logs) = of_day.entry(log.bow_id).or_insert((log.at, 0, 0));
            *last = log.at.max(*last);
            *shots += log.shots;
            *logs += 1;
        }
        let mut by_then = before;
        for (on, of_day) in days {
            by_then += of_day.values().map(|(_, shots, _)| shots).sum::<i64>();
            for (bow, (at, shots, logs)) in of_day {
                let what = What::Shots(DayShots { bow, shots, logs, by_then });
                self.entries.push(Entry { at, on, what });
            }
        }
    }

    fn stops(&mut self, stops: &[Stopped]) {
        let mut lifted = BTreeMap::<Timestamp, Vec<Stop>>::new();
        for one in stops {
            self.add(one.since, What::Stopped(one.stop));
            if let Some(at) = one.lifted {
                lifted.entry(at).or_default().push(one.stop);
            }
        }
        for (at, stops) in lifted {
            self.add(at, What::Lifted(stops));
        }
    }

    fn in_order(mut self) -> Vec<Entry> {
        self.entries.sort_by_key(|entry| (entry.at, entry.what.place()));
        self.entries
    }
}
