//! Bows that fell silent: logged regularly, then not.

use std::collections::BTreeMap;

use domain::{
    bows::Bow,
    clubs::Club,
    ids::{BowId, MemberId},
    ledger::silent_since,
};
use jiff::{Timestamp, civil::Date};
use store::{Read, StoreError};

/// A bow that fell silent.
pub(crate) struct Silent {
    pub(crate) bow: Bow,
    /// Who shoots it, of age.
    pub(crate) archer: MemberId,
    /// The day of its last log.
    pub(crate) last_on: Date,
}

/// Every silent bow of a club, if it wants its archers to be asked: one that may be shot, and whose archer
/// is of age and has not said that it is not theirs.
pub(crate) fn of_club(
    read: &mut Read<'_>,
    club: &Club,
    now: Timestamp,
) -> Result<Vec<Silent>, StoreError> {
    let Some(after_days) = club.nudge_after_days else { return Ok(Vec::new()) };
    let today = club.zone.date_of(now);
    let bows: BTreeMap<BowId, Bow> =
        store::bows::all(read, club.id)?.into_iter().map(|bow| (bow.id, bow)).collect();
    let ids: Vec<BowId> = bows.keys().copied().collect();
    let stopped = store::bow_stops::of_club(read, club.id)?;
    let roles = store::members::roles(read, club.id)?;
    let disowned = store::disowned_bows::of_club(read, club.id)?;
    let mut silent = Vec::new();
    for (id, history) in store::pace::recent(read, club.id, &ids, today)? {
        let Some(last_on) = silent_since(&history, today, after_days) else { continue };
        let Some(bow) = bows.get(&id).filter(|_| !stopped.contains_key(&id)) else { continue };
        let Some(archer) = bow.archer.filter(|archer| roles.contains_key(archer)) else { continue };
        if disowned.contains(&(id, archer)) {
            continue;
        }
        let member = match store::members::get(read, club.id, archer) {
            Err(error @ StoreError::Inconsistent { .. }) => {
                tracing::error!(%error, "somebody cannot be asked about a bow; look at their row");
                continue;
            }
            found => found?,
        };
        if !member.is_minor(today) {
            silent.push(Silent { bow: bow.clone(), archer, last_on });
        }
    }
    Ok(silent)
}
