//! The account of a part at a moment: its clocks counted from the ledger as far as it reaches back then,
//! and judged by the rules that were in force. Nothing that is derived is read for it.

use diesel::{dsl::sum, prelude::*};
use domain::{
    account::{Account, Tally, Term},
    clubs::Club,
    fittings::Fitting,
    ids::{BowId, ClubId, PartId},
    ledger::{Clock, Stretch, shots_before, stretches},
    parts::Part,
    rules::{PartRecord, Under},
};
use jiff::{SignedDuration, Timestamp};

use crate::{
    Read, StoreError, bows, due, fittings, parts, rules,
    schema::shot_logs,
    seen::SeenOfParts,
    sql_types::{Key, Utc},
    squads, stops, upkeep,
};

/// A moment that is later by the least that is kept.
const LATER: SignedDuration = SignedDuration::from_micros(1);

/// What can be said of a part at a moment, and by what arithmetic. What became known since then of the
/// time before it is in it.
pub fn of_part(
    read: &mut Read<'_>,
    club: &Club,
    part: PartId,
    at: Timestamp,
) -> Result<Account, StoreError> {
    let part = as_it_was(parts::get(read, club.id, part)?, at);
    let mut stays = fittings::of_part(read, club.id, part.id)?;
    let mut of_hosts = fittings::of_hosts(read, club.id, &stays)?;
    until(&mut stays, at);
    for stays in of_hosts.values_mut() {
        until(stays, at);
    }
    let stretches = stretches(&stays, &of_hosts);
    let clocks = part.kind.clocks().iter();
    let tallies: Vec<Tally> = clocks
        .map(|&clock| tally(read, club.id, (&part, clock), &stretches, at))
        .collect::<Result<_, _>>()?;
    let rules = rules::in_force(read, club.id, at, &club.zone)?;
    let bow = stretches.last().map(|stretch| stretch.bow_id);
    let seen = SeenOfParts::of(read, club, (&rules, Some(&[part.id])), at)?;
    let record = PartRecord {
        readings: tallies.iter().map(Tally::reading).collect(),
        first_fitted_at: due::beginning(&part, stays.first().map(|stay| stay.from)),
        changed_at: changed_at(read, club.id, &stays, &stretches, at)?,
        stop: stops::at(read, club.id, &part, &stretches, at)?,
        under: bow.map(|bow| under(read, club.id, bow)).transpose()?,
        seen: seen.of_part(part.id, bow, &stretches),
        part,
    };
    Ok(Account::of(record, tallies, &rules, &club.zone, club.zone.date_of(at)))
}

/// A part before anybody knew of its end.
fn as_it_was(part: Part, at: Timestamp) -> Part {
    let retirement = part.retirement.filter(|retirement| retirement.at <= at);
    Part { retirement, ..part }
}

/// The stays as far as they had come.
fn until(stays: &mut Vec<Fitting>, at: Timestamp) {
    stays.retain(|stay| stay.from <= at);
    for stay in stays {
        stay.to = stay.to.filter(|to| *to <= at);
    }
}

fn tally(
    read: &mut Read<'_>,
    club: ClubId,
    (part, clock): (&Part, Clock),
    stretches: &[Stretch],
    at: Timestamp,
) -> Result<Tally, StoreError> {
    let reset_at = match clock {
        Clock::Life => None,
        Clock::Since(task) => upkeep::last_done_by(read, club, part.id, task, at)?,
    };
    let counts_from = reset_at.max(part.start.map(|start| start.at));
    let mut terms = Vec::with_capacity(stretches.len());
    for stretch in stretches {
        let from = counts_from.map_or(stretch.from, |from| from.max(stretch.from));
        if stretch.to.is_some_and(|to| to <= from) {
            continue;
        }
        let end = stretch.to.unwrap_or(at.saturating_add(LATER).unwrap_or(at));
        let (logs, shots) = logged(read, club, stretch.bow_id, from, end)?;
        terms.push(Term { bow: stretch.bow_id, from, to: stretch.to, logs, shots });
    }
    let start = part.start.filter(|start| start.at <= at);
    Ok(Tally { clock, reset_at, came_with: shots_before(start, reset_at), terms })
}

/// The logs of a bow from a moment until just before another.
fn logged(
    read: &mut Read<'_>,
    club: ClubId,
    bow: BowId,
    from: Timestamp,
    end: Timestamp,
) -> Result<(i64, i64), StoreError> {
    let within = shot_logs::at.ge(Utc(from)).and(shot_logs::at.lt(Utc(end)));
    let (logs, shots): (i64, Option<i64>) = shot_logs::table
        .filter(shot_logs::club_id.eq(Key(club.0)).and(shot_logs::bow_id.eq(Key(bow.0))))
        .filter(shot_logs::counts.eq(true).and(within))
        .select((diesel::dsl::count_star(), sum(shot_logs::shots)))
        .get_result(read.conn())?;
    Ok((logs, shots.unwrap_or(0)))
}

/// When a part that is under a bow, or the serving on it, was last fitted.
fn changed_at(
    read: &mut Read<'_>,
    club: ClubId,
    stays: &[Fitting],
    stretches: &[Stretch],
    at: Timestamp,
) -> Result<Option<Timestamp>, StoreError> {
    let under = stretches.iter().any(|stretch| stretch.covers(at));
    let Some(stay) = stays.iter().find(|stay| under && stay.covers(at)) else { return Ok(None) };
    let served_at = fittings::served_at(read, club, Some(&[stay.part_id]), at)?;
    let served_at = served_at.get(&stay.part_id).copied();
    Ok(served_at.max(Some(stay.from)))
}

/// What rules ask of a bow.
fn under(read: &mut Read<'_>, club: ClubId, bow: BowId) -> Result<Under, StoreError> {
    let bow = bows::get(read, club, bow)?;
    let squads = match bow.archer {
        Some(archer) => squads::of_archers(read, club)?.remove(&archer).unwrap_or_default(),
        None => std::collections::BTreeSet::new(),
    };
    Ok(Under { bow: bow.id, division: bow.division, squads })
}
