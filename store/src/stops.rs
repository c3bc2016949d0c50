//! Which parts must not be shot, and why: derived from findings, incidents, inspections and clearances
//! in the transaction that changes one of them; with them which bows must not, in [`crate::bow_stops`].

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use domain::{
    clearances::BowClearance,
    ids::{BowId, ClubId, PartId},
    incidents::{Incident, IncidentKind},
    ledger::Stretch,
    parts::Part,
    rules::{
        BowStop, Cause, Clearing, Ground, History, Stop, StopCause, bow_stopped, clearings, stopped,
    },
    upkeep::Finding,
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx, bow_clearances, bow_stops, clubs,
    dialect::{self, Hold},
    hanging::{Hanging, ever_under},
    incidents, parts,
    schema::stops,
    sql_types::{Key, Utc},
    upkeep,
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = stops, treat_none_as_default_value = false)]
struct StopRow {
    club_id: Key,
    part_id: Key,
    cause: String,
    at: Utc,
    incident_id: Option<Key>,
    upkeep_id: Option<Key>,
}

impl TryFrom<StopRow> for Stop {
    type Error = StoreError;

    fn try_from(row: StopRow) -> Result<Self, StoreError> {
        let cause = if row.incident_id.is_some() {
            IncidentKind::parse(&row.cause).map(StopCause::Incident)
        } else {
            Finding::parse(&row.cause).map(StopCause::Finding)
        };
        let cause = cause.ok_or_else(|| StoreError::Inconsistent {
            table: "stops",
            column: "cause",
            id: row.part_id.0,
            found: row.cause.clone(),
        })?;
        Ok(Self { cause, at: row.at.0 })
    }
}

impl StopRow {
    fn of(club: ClubId, part: PartId, cause: &Cause) -> Self {
        let (incident_id, upkeep_id) = match cause.ground {
            Ground::Incident(incident) => (Some(Key(incident.0)), None),
            Ground::Inspection(upkeep) => (None, Some(Key(upkeep.0))),
        };
        Self {
            club_id: Key(club.0),
            part_id: Key(part.0),
            cause: cause.stop.cause.as_str().to_owned(),
            at: Utc(cause.stop.at),
            incident_id,
            upkeep_id,
        }
    }
}

/// Derives anew whether these parts must not be shot. Where something that forbids shooting happened
/// to a bow of theirs, so it does for that bow itself and for every other part that ever was under it: an
/// inspection of one part, and where that hung, can clear the bow for those that came later.
///
/// The number of statements does not grow with the number of parts.
pub(crate) fn reckon(tx: &mut Tx<'_>, club: ClubId, parts: &[PartId]) -> Result<(), StoreError> {
    let hung = Hanging::of(tx, club, parts)?;
    derive(tx, club, (parts, &hung), &hung.bows())
}

/// The same for a bow, whatever hangs on it, and every part that ever was under it.
pub(crate) fn reckon_bow(tx: &mut Tx<'_>, club: ClubId, bow: BowId) -> Result<(), StoreError> {
    let hung = Hanging::of(tx, club, &[])?;
    derive(tx, club, (&[], &hung), &BTreeSet::from([bow]))
}

/// Derives anew what every bow must not be shot for: a release may derive more than the one before it
/// did.
pub(crate) fn complete(tx: &mut Tx<'_>) -> Result<(), StoreError> {
    for club in clubs::ids(tx)? {
        for bow in incidents::bows_forbidden(tx, club)? {
            reckon_bow(tx, club, bow)?;
        }
    }
    Ok(())
}

fn derive(
    tx: &mut Tx<'_>,
    club: ClubId,
    (parts, hung): (&[PartId], &Hanging),
    bows: &BTreeSet<BowId>,
) -> Result<(), StoreError> {
    let happened = incidents::forbidding(tx, club, bows)?;
    if happened.is_empty() {
        return write(tx, club, parts, hung, &[], &[]);
    }
    let mut concerned = ever_under(tx, club, &bows_of(&happened))?;
    concerned.extend(parts);
    let concerned: Vec<PartId> = concerned.into_iter().collect();
    let hung = Hanging::of(tx, club, &concerned)?;
    let mut over = hung.bows();
    over.extend(bows);
    let happened = incidents::forbidding(tx, club, &over)?;
    let stricken = bows_of(&happened);
    let cleared = clearings_of(tx, club, &stricken)?;
    bow_stops::write(tx, club, &stricken, &happened, &cleared)?;
    write(tx, club, &concerned, &hung, &happened, &cleared)
}

fn bows_of(incidents: &[Incident]) -> BTreeSet<BowId> {
    incidents.iter().map(|incident| incident.bow_id).collect()
}

/// When these bows were cleared, as a whole or by the inspection of a part. Other bows that the same
/// inspections cleared come with them.
pub(crate) fn clearings_of(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &BTreeSet<BowId>,
) -> Result<Vec<Clearing>, StoreError> {
    let under: Vec<PartId> = ever_under(read, club, bows)?.into_iter().collect();
    let hung = Hanging::of(read, club, &under)?;
    let inspections = upkeep::that_stop_or_clear(read, club, &under)?;
    let of_part = |(part, works)| clearings(&hung.stretches(part), works);
    let of_parts = inspections.iter().flat_map(|(part, works)| of_part((*part, works)));
    let whole = bow_clearances::of_bows(read, club, bows)?;
    Ok(of_parts.chain(whole.iter().map(BowClearance::clearing)).collect())
}

fn write(
    tx: &mut Tx<'_>,
    club: ClubId,
    concerned: &[PartId],
    hung: &Hanging,
    incidents: &[Incident],
    clearings: &[Clearing],
) -> Result<(), StoreError> {
    let found = causes(tx, club, concerned, hung, (incidents, clearings))?;
    let theirs = stops::part_id.eq_any(concerned.iter().map(|part| Key(part.0)));
    diesel::delete(stops::table.filter(stops::club_id.eq(Key(club.0)).and(theirs)))
        .execute(tx.conn())?;
    for (part, cause) in found {
        let row = StopRow::of(club, part, &cause);
        diesel::insert_into(stops::table).values(row).execute(tx.conn())?;
    }
    Ok(())
}

/// Why these parts must not be shot, of those for which it is so.
fn causes(
    read: &mut Read<'_>,
    club: ClubId,
    concerned: &[PartId],
    hung: &Hanging,
    (incidents, clearings): (&[Incident], &[Clearing]),
) -> Result<BTreeMap<PartId, Cause>, StoreError> {
    let inspections = upkeep::that_stop_or_clear(read, club, concerned)?;
    if inspections.is_empty() && incidents.is_empty() {
        return Ok(BTreeMap::new());
    }
    let mut found = BTreeMap::new();
    for (id, part) in parts::some(read, club, concerned)? {
        let inspections = inspections.get(&id).map(Vec::as_slice).unwrap_or_default();
        let stretches = hung.stretches(id);
        let history = History { stretches: &stretches, inspections, incidents, clearings };
        found.extend(
            stopped(history).filter(|_| part.retirement.is_none()).map(|cause| (id, cause)),
        );
    }
    Ok(found)
}

/// Why parts and bows must not be shot.
pub(crate) type Derived = (BTreeMap<PartId, Stop>, BTreeMap<BowId, BowStop>);

/// Why parts and bows of a club must not be shot, derived anew of everything on record.
pub(crate) fn derived(read: &mut Read<'_>, club: ClubId) -> Result<Derived, StoreError> {
    let stricken = incidents::bows_forbidden(read, club)?.into_iter().collect();
    let incidents = incidents::forbidding(read, club, &stricken)?;
    let clearings = clearings_of(read, club, &stricken)?;
    let all: Vec<PartId> = parts::all(read, club)?.iter().map(|part| part.id).collect();
    let hung = Hanging::of(read, club, &all)?;
    let parts = causes(read, club, &all, &hung, (&incidents, &clearings))?;
    let bows = stricken
        .into_iter()
        .filter_map(|bow| Some((bow, bow_stopped(bow, &incidents, &clearings)?)));
    Ok((parts.into_iter().map(|(part, cause)| (part, cause.stop)).collect(), bows.collect()))
}

/// Derives anew what every part and every bow of a club must not be shot for.
pub(crate) fn reckon_club(tx: &mut Tx<'_>, club: ClubId) -> Result<(), StoreError> {
    bow_stops::forget(tx, club)?;
    let all: Vec<PartId> = parts::all(tx, club)?.iter().map(|part| part.id).collect();
    reckon(tx, club, &all)?;
    let stricken = incidents::bows_forbidden(tx, club)?;
    stricken.into_iter().try_for_each(|bow| reckon_bow(tx, club, bow))
}

/// What must not be shot in a club.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// Parts in use.
    pub parts: BTreeSet<PartId>,
    /// Bows.
    pub bows: BTreeSet<BowId>,
}

/// What must not be shot in a club, with the club held so that nothing else changes it.
pub fn standing_to_change(tx: &mut Tx<'_>, club: ClubId) -> Result<Standing, StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    let bows = bow_stops::of_club(tx, club)?.into_keys().collect();
    Ok(Standing { parts: parts(tx, club)?, bows })
}

/// Which parts of a club in use must not be shot.
pub fn parts(read: &mut Read<'_>, club: ClubId) -> Result<BTreeSet<PartId>, StoreError> {
    Ok(of_club(read, club)?.into_keys().collect())
}

/// Every part of a club that must not be shot.
pub(crate) fn of_club(
    read: &mut Read<'_>,
    club: ClubId,
) -> Result<BTreeMap<PartId, Stop>, StoreError> {
    let rows: Vec<StopRow> = stops::table
        .filter(stops::club_id.eq(Key(club.0)))
        .select(StopRow::as_select())
        .order(stops::part_id)
        .load(read.conn())?;
    by_part(rows)
}

/// Those of these parts that must not be shot.
pub(crate) fn of_parts(
    read: &mut Read<'_>,
    club: ClubId,
    parts: &[PartId],
) -> Result<BTreeMap<PartId, Stop>, StoreError> {
    let theirs = stops::part_id.eq_any(parts.iter().map(|part| Key(part.0)));
    let rows: Vec<StopRow> = stops::table
        .filter(stops::club_id.eq(Key(club.0)).and(theirs))
        .select(StopRow::as_select())
        .order(stops::part_id)
        .load(read.conn())?;
    by_part(rows)
}

fn by_part(rows: Vec<StopRow>) -> Result<BTreeMap<PartId, Stop>, StoreError> {
    rows.into_iter().map(|row| Ok((PartId(row.part_id.0), row.try_into()?))).collect()
}

/// What forbade shooting a part at a moment, by what is known now of the time before it; `stretches` are
/// where it had hung by then.
pub(crate) fn at(
    read: &mut Read<'_>,
    club: ClubId,
    part: &Part,
    stretches: &[Stretch],
    at: Timestamp,
) -> Result<Option<Stop>, StoreError> {
    if part.retirement.is_some() {
        return Ok(None);
    }
    let bows: BTreeSet<BowId> = stretches.iter().map(|stretch| stretch.bow_id).collect();
    let mut incidents = incidents::forbidding(read, club, &bows)?;
    incidents.retain(|incident| incident.at <= at);
    let mut clearings = clearings_of(read, club, &bows_of(&incidents))?;
    clearings.retain(|clearing| clearing.at <= at);
    let mut inspections = upkeep::that_stop_or_clear(read, club, &[part.id])?;
    let mut inspections = inspections.remove(&part.id).unwrap_or_default();
    inspections.retain(|work| work.at <= at);
    let (inspections, incidents, clearings) = (&inspections, &incidents, &clearings);
    let cause = stopped(History { stretches, inspections, incidents, clearings });
    Ok(cause.map(|cause| cause.stop))
}
