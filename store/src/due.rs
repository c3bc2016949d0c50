//! What the parts of a club want: their records loaded here and judged by the domain, in a constant
//! number of statements however many parts are asked for.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use domain::{
    bows::Bow,
    clubs::Club,
    fittings::Fitting,
    ids::{BowId, MemberId, PartId, SquadId},
    ledger::{Reading, Stretch},
    parts::Part,
    rules::{Assessment, BowStop, Condition, PartRecord, Rule, Stop, Under, assess},
    text::Name,
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, bow_stops, bows, fittings,
    hanging::{Hanging, last_bow},
    parts, rules,
    seen::SeenOfParts,
    squads, stops, wear,
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
        let bow = known.hung.bow_at(part.id, now);
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
    let hung = Hanging::of(read, club.id, part_ids)?;
    let over: Vec<BowId> = hung.bows().into_iter().collect();
    let rules = rules::in_force(read, club.id, now, &club.zone)?;
    let mut known = Known {
        seen: SeenOfParts::of(read, club, (&rules, Some(part_ids)), now)?,
        served_at: fittings::served_at(read, club.id, Some(part_ids), now)?,
        bows: bows::some(read, club.id, &over)?
            .into_iter()
            .map(|(id, bow)| (id, Arc::new(bow)))
            .collect(),
        readings: wear::of_parts(read, club.id, part_ids)?,
        stops: stops::of_parts(read, club.id, part_ids)?,
        squads: squads::of_archers(read, club.id)?,
        rules,
        hung,
    };
    let asked = part_ids.iter().map(|id| {
        let part = found.remove(id).ok_or(StoreError::NotFound { what: "part" })?;
        Ok(known.judge(club, part, now))
    });
    asked.collect()
}

/// What is on record of the parts to be judged, and of what they hang on.
struct Known {
    hung: Hanging,
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
            hung: Hanging::of_club(read, club.id)?,
            served_at: fittings::served_at(read, club.id, None, now)?,
            bows: bows.map(|bow| (bow.id, Arc::new(bow))).collect(),
            readings: wear::of_club(read, club.id)?,
            stops: stops::of_club(read, club.id)?,
            squads: squads::of_archers(read, club.id)?,
            rules,
        })
    }

    /// Judges a part. Its readings go into the judgement, so it is judged once.
    fn judge(&mut self, club: &Club, part: Part, now: Timestamp) -> Judged {
        let readings = self.readings.remove(&part.id).unwrap_or_default();
        let (stays, stretches) = (self.hung.stays(part.id), self.hung.stretches(part.id));
        let bow = self.hung.bow_at(part.id, now).and_then(|id| self.bows.get(&id));
        let last_bow = last_bow(&stretches);
        let served_at = self.served_at.get(&part.id).copied();
        let record = PartRecord {
            readings,
            first_fitted_at: beginning(&part, stays.first().map(|stay| stay.from)),
            changed_at: changed_at((stays, &stretches), served_at, now),
            stop: self.stops.get(&part.id).copied(),
            under: last_bow.and_then(|bow| Some(under(self.bows.get(&bow)?, &self.squads))),
            seen: self.seen.of_part(part.id, last_bow, &stretches),
            part,
        };
        let assessment = assess(&record, &self.rules, &club.zone, club.zone.date_of(now));
        Judged { record, assessment, bow: bow.cloned(), last_bow }
    }
}

/// What rules ask of the bow that a part is under.
pub(crate) fn under(bow: &Bow, squads: &BTreeMap<MemberId, BTreeSet<SquadId>>) -> Under {
    let of_archer = bow.archer.and_then(|archer| squads.get(&archer));
    let squads = of_archer.cloned().unwrap_or_default();
    Under { bow: bow.id, division: bow.division, squads }
}

/// When a part that is under a bow at a moment, or the serving that is on it then, was last fitted.
pub(crate) fn changed_at(
    (stays, stretches): (&[Fitting], &[Stretch]),
    served_at: Option<Timestamp>,
    at: Timestamp,
) -> Option<Timestamp> {
    let under = stretches.iter().any(|stretch| stretch.covers(at));
    let stay = stays.iter().find(|stay| under && stay.covers(at))?;
    served_at.max(Some(stay.from))
}

/// When a part's days begin to count: when it was first fitted, or earlier if it came used.
pub(crate) fn beginning(part: &Part, fitted_at: Option<Timestamp>) -> Option<Timestamp> {
    let came_used_at = part.start.filter(|start| start.shots > 0).map(|start| start.at);
    [fitted_at, came_used_at].into_iter().flatten().min()
}
