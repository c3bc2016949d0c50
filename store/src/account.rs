//! The account of a part at a moment: its clocks counted from the ledger as far as it reaches back then,
//! and judged by the rules that were in force. Of what is derived it reads only
//! the days of bows, for the pace at which an event is reckoned with.

use diesel::{dsl::sum, prelude::*};
use domain::{
    account::{Account, Tally, Term},
    clubs::Club,
    ids::{BowId, ClubId, PartId},
    ledger::{Clock, Stretch, shots_before},
    parts::Part,
    rules::PartRecord,
};
use jiff::{SignedDuration, Timestamp};

use crate::{
    Read, StoreError, bows, due, fittings,
    hanging::{Hanging, last_bow},
    parts, rules,
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
    let hung = Hanging::of(read, club.id, &[part.id])?.until(at);
    let (stays, stretches) = (hung.stays(part.id), hung.stretches(part.id));
    let clocks = part.kind.clocks().iter();
    let tallies: Vec<Tally> = clocks
        .map(|&clock| tally(read, club.id, (&part, clock), &stretches, at))
        .collect::<Result<_, _>>()?;
    let rules = rules::in_force(read, club.id, at, &club.zone)?;
    let bow = last_bow(&stretches).map(|bow| bows::get(read, club.id, bow)).transpose()?;
    let squads = squads::of_archers(read, club.id)?;
    let served_at = fittings::served_at(read, club.id, Some(&[part.id]), at)?;
    let seen = SeenOfParts::of(read, club, (&rules, Some(&[part.id])), at)?;
    let record = PartRecord {
        readings: tallies.iter().map(Tally::reading).collect(),
        first_fitted_at: due::beginning(&part, stays.first().map(|stay| stay.from)),
        changed_at: due::changed_at((stays, &stretches), served_at.get(&part.id).copied(), at),
        stop: stops::at(read, club.id, &part, &stretches, at)?,
        under: bow.as_ref().map(|bow| due::under(bow, &squads)),
        seen: seen.of_part(part.id, bow.map(|bow| bow.id), &stretches),
        part,
    };
    Ok(Account::of(record, tallies, &rules, &club.zone, club.zone.date_of(at)))
}

/// A part before anybody knew of its end.
fn as_it_was(part: Part, at: Timestamp) -> Part {
    let retirement = part.retirement.filter(|retirement| retirement.at <= at);
    Part { retirement, ..part }
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
