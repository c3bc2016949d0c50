//! What is on record of a part or a bow, gathered for its timeline: one statement for the logs of each stretch
//! under a bow, and a constant number besides.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use domain::{
    clubs::Club,
    fittings::{Fitting, Host},
    ids::{BowId, ClubId, PartId},
    ledger::Stretch,
    text::Name,
    timeline::{self, BowHistory, Entry, Logged, Names, PartHistory},
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, bow_clearances, bows, fittings,
    hanging::Hanging,
    incidents, parts,
    schema::shot_logs,
    sql_types::{Key, Utc},
    stops::clearings_of,
    upkeep,
};

/// What happened, and what the bows and parts in it are called.
#[derive(Debug, Clone)]
pub struct Timeline {
    /// Oldest first.
    pub entries: Vec<Entry>,
    /// Of every bow and part that the entries speak of.
    pub names: Names,
}

/// Everything that happened to a part.
pub fn of_part(read: &mut Read<'_>, club: &Club, part: PartId) -> Result<Timeline, StoreError> {
    let found = parts::get(read, club.id, part)?;
    let stays = fittings::of_part(read, club.id, part)?;
    let hung = Hanging::of(read, club.id, &[part])?;
    let (bows, stretches) = (hung.bows(), hung.stretches(part));
    let entries = timeline::of_part(
        PartHistory {
            part: &found,
            fittings: &stays,
            stretches: &stretches,
            logs: &logs(read, club.id, &stretches)?,
            works: &upkeep::of_part(read, club.id, part)?,
            incidents: &incidents::of_bows(read, club.id, &bows)?,
            clearings: &clearings_of(read, club.id, &bows)?,
        },
        &club.zone,
    );
    let hosts = stays.iter().filter_map(|stay| match stay.host {
        Host::Part(host) => Some(host),
        Host::Bow(_) => None,
    });
    let names = names(read, club.id, &bows, &hosts.collect())?;
    Ok(Timeline { entries, names })
}

/// Everything that happened to a bow.
pub fn of_bow(read: &mut Read<'_>, club: &Club, bow: BowId) -> Result<Timeline, StoreError> {
    bows::get(read, club.id, bow)?;
    let only = BTreeSet::from([bow]);
    let always = Stretch { bow_id: bow, from: Timestamp::UNIX_EPOCH, to: None };
    let stays: Vec<Fitting> = fittings::of_bow(read, club.id, bow)?;
    let entries = timeline::of_bow(
        BowHistory {
            fittings: &stays,
            logs: &logs(read, club.id, &[always])?,
            incidents: &incidents::of_bows(read, club.id, &only)?,
            clearances: &bow_clearances::of_bow(read, club.id, bow)?,
            clearings: &clearings_of(read, club.id, &only)?,
        },
        &club.zone,
    );
    let names = names(read, club.id, &only, &stays.iter().map(|stay| stay.part_id).collect())?;
    Ok(Timeline { entries, names })
}

/// Every log within these stretches that counts, oldest first in each.
fn logs(
    read: &mut Read<'_>,
    club: ClubId,
    stretches: &[Stretch],
) -> Result<Vec<Logged>, StoreError> {
    let mut all = Vec::new();
    for Stretch { bow_id, from, to } in stretches {
        let until = to.unwrap_or(Timestamp::MAX);
        let within = shot_logs::at.ge(Utc(*from)).and(shot_logs::at.lt(Utc(until)));
        let rows: Vec<(Utc, i32)> = shot_logs::table
            .filter(shot_logs::club_id.eq(Key(club.0)).and(shot_logs::bow_id.eq(Key(bow_id.0))))
            .filter(shot_logs::counts.eq(true).and(within))
            .select((shot_logs::at, shot_logs::shots))
            .order(shot_logs::at)
            .load(read.conn())?;
        let logged =
            |(at, shots): (Utc, i32)| Logged { bow_id: *bow_id, at: at.0, shots: shots.into() };
        all.extend(rows.into_iter().map(logged));
    }
    Ok(all)
}

/// What these are called.
fn names(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &BTreeSet<BowId>,
    parts: &BTreeSet<PartId>,
) -> Result<Names, StoreError> {
    let bows = bows::some(read, club, &bows.iter().copied().collect::<Vec<_>>())?;
    let parts = parts::some(read, club, &parts.iter().copied().collect::<Vec<_>>())?;
    let bows: BTreeMap<BowId, Name> = bows.into_iter().map(|(id, bow)| (id, bow.name)).collect();
    let parts = parts.into_iter().map(|(id, part)| (id, (part.kind, part.name))).collect();
    Ok(Names { bows, parts })
}
