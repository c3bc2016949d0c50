//! What the parts of a club want: their records loaded here and judged by the domain, in a constant
//! number of statements however many parts are asked for.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use domain::{
    bows::Bow,
    clubs::Club,
    fittings::{Fitting, Host},
    ids::{BowId, MemberId, PartId, SquadId},
    ledger::{Reading, stretches},
    parts::Part,
    rules::{Assessment, BowStop, Condition, PartRecord, Rule, Stop, Under, assess},
    text::Name,
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, bow_stops, bows, fittings, parts, rules, seen::SeenOfParts, squads, stops,
    wear,
};

/// A part, what it is now, and the bow it is under.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The part and its clocks.
    pub record: PartRecord,
    /// What the club's rules say of it.
    pub assessment: Assessment,
    /// The bow it hangs under now, directly or on a string.
    pub bow: Option<Arc<Bow>>,
    /// The bow it is under, or was under last.
    pub last_bow: Option<BowId>,
}

/// Every part in use of a club, the most urgent first; of equally urgent ones by bow, then in the
/// order they were added.
pub fn of_club(
    read: &mut Read<'_>,
    club: &Club,
    now: Timestamp,
) -> Result<Vec<Judged>, StoreError> {
    let rules = rules::in_force(read, club.id, now, &club.zone)?;
    of_club_by(read, club, rules, now)
}

/// The same by other rules than those that are in force.
pub fn of_club_by(
    read: &mut Read<'_>,
    club: &Club,
    rules: Vec<Rule>,
    now: Timestamp,
) -> Result<Vec<Judged>, StoreError> {
    let parts = parts::in_use(read, club.id)?;
    let mut known = Known::of_club(read, club, rules, now)?;
    let mut judged: Vec<Judged> =
        parts.into_iter().map(|part| known.judge(club, part, now)).collect();
    judged.sort_by(|a, b| urgency(a).cmp(&urgency(b)));
    Ok(judged)
}

/// A bow and every part that hangs under it.
#[derive(Debug, Clone, PartialEq)]
pub struct UnderBow {
    /// The bow.
    pub bow: Arc<Bow>,
    /// Why it must not be shot, whatever hangs on it, if so.
    pub stop: Option<BowStop>,
    /// Its parts, the most urgent first, then in the order they were added.
    pub parts: Vec<Judged>,
}

/// The bows of a club that are wanted, in the order they were added, with what hangs under them.
pub fn under_bows(
    read: &mut Read<'_>,
    club: &Club,
    now: Timestamp,
    wanted: impl Fn(&Bow) -> bool,
) -> Result<Vec<UnderBow>, StoreError> {
    let parts = parts::in_use(read, club.id)?;
    let rules = rules::in_force(read, club.id, now, &club.zone)?;
    let mut known = Known::of_club(read, club, rules, now)?;
    let stops = bow_stops::of_club(read, club.id)?;
    let mut under: BTreeMap<BowId, Vec<Judged>> =
        known.bows.values().filter(|bow| wanted(bow)).map(|bow| (bow.id, Vec::new())).collect();
    for part in parts {
        let bow = known.stay_of(part.id, now).and_then(|stay| known.bow_over(stay, now));
        let Some(theirs) = bow.and_then(|bow| under.get_mut(&bow)) else { continue };
        theirs.push(known.judge(club, part, now));
    }
    let rows = under.into_iter().filter_map(|(bow, mut parts)| {
        parts.sort_by_key(|one| (one.assessment.condition, one.record.part.id));
        let stop = stops.get(&bow).copied();
        Some(UnderBow { bow: Arc::clone(known.bows.get(&bow)?), stop, parts })
    });
    Ok(rows.collect())
}

/// What a list of what is due is sorted by.
fn urgency(judged: &Judged) -> (Condition, Option<&Name>, PartId) {
    let bow = judged.bow.as_ref().map(|bow| &bow.name);
    (judged.assessment.condition, bow, judged.record.part.id)
}

/// Single parts of a club, judged in the order asked for.
pub fn of_parts(
    read: &mut Read<'_>,
    club: &Club,
    part_ids: &[PartId],
    now: Timestamp,
) -> Result<Vec<Judged>, StoreError> {
    let mut found = parts::some(read, club.id, part_ids)?;
    let mut of_parts = fittings::of_parts(read, club.id, part_ids)?;
    let hosts: Vec<PartId> = of_parts.values().flatten().filter_map(host_part).collect();
    let missing: Vec<PartId> =
        hosts.into_iter().filter(|host| !of_parts.contains_key(host)).collect();
    of_parts.extend(fittings::of_parts(read, club.id, &missing)?);
    let under: Vec<BowId> = of_parts.values().flatten().filter_map(host_bow).collect();
    let rules = rules::in_force(read, club.id, now, &club.zone)?;
    let mut known = Known {
        seen: SeenOfParts::of(read, club, (&rules, Some(part_ids)), now)?,
        served_at: fittings::served_at(read, club.id, Some(part_ids), now)?,
        bows: bows::some(read, club.id, &under)?
            .into_iter()
            .map(|(id, bow)| (id, Arc::new(bow)))
            .collect(),
        readings: wear::of_parts(read, club.id, part_ids)?,
        stops: stops::of_parts(read, club.id, part_ids)?,
        squads: squads::of_archers(read, club.id)?,
        rules,
        fittings: of_parts,
    };
    let asked = part_ids.iter().map(|id| {
        let part = found.remove(id).ok_or(StoreError::NotFound { what: "part" })?;
        Ok(known.judge(club, part, now))
    });
    asked.collect()
}

const fn host_part(fitting: &Fitting) -> Option<PartId> {
    match fitting.host {
        Host::Part(host) => Some(host),
        Host::Bow(_) => None,
    }
}

const fn host_bow(fitting: &Fitting) -> Option<BowId> {
    match fitting.host {
        Host::Bow(bow) => Some(bow),
        Host::Part(_) => None,
    }
}

/// What is on record of the parts to be judged, and of what they hang on.
struct Known {
    /// Every fitting of each part, oldest first.
    fittings: BTreeMap<PartId, Vec<Fitting>>,
    /// When the serving that is on each string now was fitted.
    served_at: BTreeMap<PartId, Timestamp>,
    bows: BTreeMap<BowId, Arc<Bow>>,
    /// Of the parts that have not been judged yet.
    readings: BTreeMap<PartId, Vec<Reading>>,
    stops: BTreeMap<PartId, Stop>,
    rules: Vec<Rule>,
    seen: SeenOfParts,
    /// The squads in which each archer is.
    squads: BTreeMap<MemberId, BTreeSet<SquadId>>,
}

impl Known {
    /// What is on record of a whole club.
    fn of_club(
        read: &mut Read<'_>,
        club: &Club,
        rules: Vec<Rule>,
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        let bows = bows::all(read, club.id)?.into_iter();
        Ok(Self {
            seen: SeenOfParts::of(read, club, (&rules, None), now)?,
            fittings: fittings::of_club(read, club.id)?,
            served_at: fittings::served_at(read, club.id, None, now)?,
            bows: bows.map(|bow| (bow.id, Arc::new(bow))).collect(),
            readings: wear::of_club(read, club.id)?,
            stops: stops::of_club(read, club.id)?,
            squads: squads::of_archers(read, club.id)?,
            rules,
        })
    }

    /// Where a part is now.
    fn stay_of(&self, part: PartId, now: Timestamp) -> Option<&Fitting> {
        self.fittings.get(&part)?.iter().find(|stay| stay.covers(now))
    }

    /// Judges a part. Its readings go into the judgement, so it is judged once.
    fn judge(&mut self, club: &Club, part: Part, now: Timestamp) -> Judged {
        let readings = self.readings.remove(&part.id).unwrap_or_default();
        let stays = self.fittings.get(&part.id).map(Vec::as_slice).unwrap_or_default();
        let own = self.stay_of(part.id, now);
        let bow = own.and_then(|stay| self.bow_over(stay, now)).and_then(|id| self.bows.get(&id));
        let stretches = stretches(stays, &self.fittings);
        let last_bow = stretches.last().map(|stretch| stretch.bow_id);
        let changed_at = own.filter(|_| bow.is_some()).map(|stay| {
            self.served_at.get(&part.id).map_or(stay.from, |served_at| stay.from.max(*served_at))
        });
        let record = PartRecord {
            readings,
            first_fitted_at: beginning(&part, stays.first().map(|stay| stay.from)),
            changed_at,
            stop: self.stops.get(&part.id).copied(),
            under: last_bow.and_then(|bow| self.under(bow)),
            seen: self.seen.of_part(part.id, last_bow, &stretches),
            part,
        };
        let assessment = assess(&record, &self.rules, &club.zone, club.zone.date_of(now));
        Judged { record, assessment, bow: bow.cloned(), last_bow }
    }

    /// What rules ask of the bow that a part is under.
    fn under(&self, bow: BowId) -> Option<Under> {
        let bow = self.bows.get(&bow)?;
        let squads = bow.archer.and_then(|archer| self.squads.get(&archer));
        let squads = squads.cloned().unwrap_or_default();
        Some(Under { bow: bow.id, division: bow.division, squads })
    }

    /// The bow that a stay is under now.
    fn bow_over(&self, stay: &Fitting, now: Timestamp) -> Option<BowId> {
        match stay.host {
            Host::Bow(bow) => Some(bow),
            Host::Part(host) => {
                host_bow(self.fittings.get(&host)?.iter().find(|stay| stay.covers(now))?)
            }
        }
    }
}

/// When a part's days begin to count: when it was first fitted, or earlier if it came used.
pub(crate) fn beginning(part: &Part, fitted_at: Option<Timestamp>) -> Option<Timestamp> {
    let came_used_at = part.start.filter(|start| start.shots > 0).map(|start| start.at);
    [fitted_at, came_used_at].into_iter().flatten().min()
}
