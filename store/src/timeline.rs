//! What is on record of a part or a bow, gathered for its timeline in a constant number of statements.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use domain::{
    clubs::Club,
    fittings::{Fitting, Host},
    ids::{BowId, ClubId, PartId},
    text::Name,
    timeline::{self, BowHistory, Entry, Logged, Names, PartHistory},
};

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
    let bows = hung.bows();
    let entries = timeline::of_part(
        PartHistory {
            part: &found,
            fittings: &stays,
            stretches: &hung.stretches(part),
            logs: &logs(read, club.id, &bows)?,
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
    let stays: Vec<Fitting> = fittings::of_bow(read, club.id, bow)?;
    let entries = timeline::of_bow(
        BowHistory {
            fittings: &stays,
            logs: &logs(read, club.id, &only)?,
            incidents: &incidents::of_bows(read, club.id, &only)?,
            clearances: &bow_clearances::of_bow(read, club.id, bow)?,
            clearings: &clearings_of(read, club.id, &only)?,
        },
        &club.zone,
    );
    let names = names(read, club.id, &only, &stays.iter().map(|stay| stay.part_id).collect())?;
    Ok(Timeline { entries, names })
}

/// Every log of these bows that counts, oldest first.
fn logs(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &BTreeSet<BowId>,
) -> Result<Vec<Logged>, StoreError> {
    let theirs = shot_logs::bow_id.eq_any(bows.iter().map(|bow| Key(bow.0)));
    let rows: Vec<(Key, Utc, i32)> = shot_logs::table
        .filter(shot_logs::club_id.eq(Key(club.0)).and(theirs))
        .filter(shot_logs::counts.eq(true))
        .select((shot_logs::bow_id, shot_logs::at, shot_logs::shots))
        .order((shot_logs::bow_id, shot_logs::at))
        .load(read.conn())?;
    let logged = |(bow, at, shots): (Key, Utc, i32)| Logged {
        bow_id: BowId(bow.0),
        at: at.0,
        shots: shots.into(),
    };
    Ok(rows.into_iter().map(logged).collect())
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
