//! What rules ask of parts besides their counts, loaded only as far as a rule in force asks for it.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    clubs::Club,
    forecast::Pace,
    ids::{BowId, PartId},
    incidents::{Incident, IncidentKind},
    ledger::Stretch,
    rules::{Ahead, Found, Rule, Seen, happened_to, standing},
};
use jiff::Timestamp;

use crate::{Read, StoreError, events, incidents, pace, upkeep};

/// What was seen of the parts of a club, and what is ahead of its bows.
#[derive(Default)]
pub(crate) struct SeenOfParts {
    found: BTreeMap<PartId, Vec<Found>>,
    incidents: Vec<Incident>,
    ahead: BTreeMap<BowId, Ahead>,
}

impl SeenOfParts {
    /// Loads what these rules ask for, of some parts or of all, as it stands at a moment.
    pub(crate) fn of(
        read: &mut Read<'_>,
        club: &Club,
        (rules, parts): (&[Rule], Option<&[PartId]>),
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        let mut seen = Self::default();
        if rules.iter().any(|rule| rule.limits.finding.is_some()) {
            for (part, works) in upkeep::inspections(read, club.id, parts)? {
                let until_now = works.iter().filter(|work| work.at <= now);
                seen.found.insert(part, standing(until_now));
            }
        }
        let asked = rules.iter().flat_map(|rule| &rule.limits.incidents);
        let kinds: BTreeSet<IncidentKind> = asked.copied().collect();
        if !kinds.is_empty() {
            seen.incidents = incidents::of_kinds(read, club.id, &kinds)?;
            seen.incidents.retain(|incident| incident.at <= now);
        }
        if rules.iter().any(|rule| rule.limits.event_notice_days.is_some()) {
            seen.ahead = ahead(read, club, now)?;
        }
        Ok(seen)
    }

    /// What there is of one part, which is under a bow or was under it last.
    pub(crate) fn of_part(&self, part: PartId, bow: Option<BowId>, stretches: &[Stretch]) -> Seen {
        Seen {
            found: self.found.get(&part).cloned().unwrap_or_default(),
            happened: happened_to(stretches, &self.incidents),
            ahead: bow.and_then(|bow| self.ahead.get(&bow)).cloned(),
        }
    }
}

/// The next event of each bow that is entered for one.
fn ahead(
    read: &mut Read<'_>,
    club: &Club,
    now: Timestamp,
) -> Result<BTreeMap<BowId, Ahead>, StoreError> {
    let today = club.zone.date_of(now);
    let events = events::ahead(read, club.id, today)?;
    let going = events.iter().flat_map(|(_, entries)| entries.iter().map(|entry| entry.bow));
    let bows: BTreeSet<BowId> = going.collect();
    let bows: Vec<BowId> = bows.into_iter().collect();
    let histories = pace::recent(read, club.id, &bows, today)?;
    let mut next = BTreeMap::new();
    for (event, entries) in &events {
        for entry in entries {
            let history = histories.get(&entry.bow).map(Vec::as_slice).unwrap_or_default();
            let pace = Pace::of(history, today).ok();
            // They come in the order in which they begin.
            next.entry(entry.bow).or_insert_with(|| Ahead::of(event, pace.as_ref(), today));
        }
    }
    Ok(next)
}
