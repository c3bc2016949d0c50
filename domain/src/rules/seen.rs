//! What rules ask of a part besides its counts: what was found on it, what happened to the bow that it
//! was under, and the next event that it goes to.

use std::collections::BTreeMap;

use jiff::{Timestamp, civil::Date};

use crate::{
    events::Event,
    forecast::Pace,
    incidents::{Incident, IncidentKind},
    ledger::Stretch,
    text::Name,
    upkeep::{Finding, Grade, Upkeep, UpkeepTask},
};

/// What was seen of a part, and what is ahead of it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Seen {
    /// The findings that stand.
    pub found: Vec<Found>,
    /// The incidents of the bow that it was under.
    pub happened: Vec<Happened>,
    /// The next event that its bow is entered for.
    pub ahead: Option<Ahead>,
}

/// A finding that stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Found {
    /// What was found.
    pub finding: Finding,
    /// How bad, at the last inspection that speaks of it.
    pub grade: Grade,
    /// When that was.
    pub at: Timestamp,
}

/// An incident of the bow that a part was under.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Happened {
    /// What.
    pub kind: IncidentKind,
    /// When.
    pub at: Timestamp,
}

/// The next event of a bow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ahead {
    /// What it is called.
    pub name: Name,
    /// Its first day.
    pub starts_on: Date,
    /// Its last day.
    pub ends_on: Date,
    /// The shots that are expected of the bow from now until its end.
    pub shots_by_end: i64,
}

impl Ahead {
    /// What an event asks of a bow that goes to it, at the pace at which the bow is shot.
    ///
    /// # Formula
    /// The shots until its end are its arrows and those of `days` at `mean / 7` a day, rounded to a whole
    /// number, with `days` from today to its last day; without a pace its arrows alone.
    ///
    /// # Example
    /// See [`super::judge`], which compares it with what is left.
    #[must_use]
    pub fn of(event: &Event, pace: Option<&Pace>, today: Date) -> Self {
        let days = today.until(event.dates.ends_on()).map_or(0, |span| span.get_days().max(0));
        let mean = pace.map_or(0.0, |pace| pace.mean_shots_per_week);
        let until_then = (mean / 7.0 * f64::from(days)).round();
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a float saturates, which is far too many"
        )]
        let until_then = until_then as i64;
        Self {
            name: event.name.clone(),
            starts_on: event.dates.starts_on(),
            ends_on: event.dates.ends_on(),
            shots_by_end: until_then.saturating_add(event.arrows_expected.into()),
        }
    }
}

/// The findings that stand after these inspections, in whatever order they are given.
///
/// A finding stands until a later inspection grades it anew, or finds nothing at all.
///
/// # Example
/// ```
/// use domain::{ids::*, rules::standing, time::parse_instant, upkeep::*};
/// use uuid::Uuid;
/// let inspected = |day: u8, found: &[(Finding, Grade)]| {
///     let at = parse_instant(&format!("2027-03-0{day}T10:00:00Z")).unwrap();
///     let (part, by) = (PartId(Uuid::nil()), MemberId(Uuid::nil()));
///     let work = Upkeep::new(UpkeepId(Uuid::nil()), part, UpkeepTask::Inspected, at, by);
///     Upkeep { findings: found.iter().copied().collect(), ..work }
/// };
/// let (flat, loose) = (Finding::FlatServing, Finding::LooseNockFit);
/// let first = inspected(1, &[(flat, Grade::Marked)]);
/// let second = inspected(2, &[(loose, Grade::Light)]);
/// let grades = |works: &[&Upkeep]| {
///     let found = standing(works.iter().copied());
///     found.iter().map(|one| (one.finding, one.grade)).collect::<Vec<_>>()
/// };
/// assert_eq!(grades(&[&second, &first]), [(flat, Grade::Marked), (loose, Grade::Light)]);
/// assert_eq!(grades(&[&first, &second, &inspected(3, &[])]), []);
/// ```
#[must_use]
pub fn standing<'a>(inspections: impl IntoIterator<Item = &'a Upkeep>) -> Vec<Found> {
    let inspected = inspections.into_iter().filter(|work| work.task == UpkeepTask::Inspected);
    let mut inspected: Vec<&Upkeep> = inspected.collect();
    inspected.sort_by_key(|work| (work.at, work.id));
    let mut standing = BTreeMap::new();
    for work in inspected {
        if work.findings.is_empty() {
            standing.clear();
        }
        for (&finding, &grade) in &work.findings {
            standing.insert(finding, Found { finding, grade, at: work.at });
        }
    }
    standing.into_values().collect()
}

/// Those of these incidents that happened to the bow that a part was under, by its stretches.
#[must_use]
pub fn happened_to(stretches: &[Stretch], incidents: &[Incident]) -> Vec<Happened> {
    let under = |incident: &&Incident| {
        let covers =
            |stretch: &Stretch| stretch.bow_id == incident.bow_id && stretch.covers(incident.at);
        stretches.iter().any(covers)
    };
    let concerned = incidents.iter().filter(under);
    concerned.map(|incident| Happened { kind: incident.kind, at: incident.at }).collect()
}
