//! Which bows must not be shot, whatever hangs on them: derived by [`crate::stops`] in the transaction that
//! changes an incident, a clearance, an inspection or a fitting.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use domain::{
    clubs::Club,
    ids::{BowId, ClubId, IncidentId},
    incidents::{Incident, IncidentKind},
    rules::{BowStop, Clearing, Stop, StopCause, bow_stopped, last_reason},
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx, due, fittings,
    schema::bow_stops,
    sql_types::{Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = bow_stops)]
struct BowStopRow {
    club_id: Key,
    bow_id: Key,
    cause: String,
    at: Utc,
    incident_id: Key,
}

impl TryFrom<BowStopRow> for BowStop {
    type Error = StoreError;

    fn try_from(row: BowStopRow) -> Result<Self, StoreError> {
        let kind = IncidentKind::parse(&row.cause).ok_or_else(|| StoreError::Inconsistent {
            table: "bow_stops",
            column: "cause",
            id: row.bow_id.0,
            found: row.cause.clone(),
        })?;
        let stop = Stop { at: row.at.0, cause: StopCause::Incident(kind) };
        Ok(Self { stop, incident: IncidentId(row.incident_id.0) })
    }
}

/// Derives anew whether these bows must not be shot; `incidents` and `clearings` are all of theirs.
pub(crate) fn write(
    tx: &mut Tx<'_>,
    club: ClubId,
    bows: &BTreeSet<BowId>,
    incidents: &[Incident],
    clearings: &[Clearing],
) -> Result<(), StoreError> {
    let theirs = bow_stops::bow_id.eq_any(bows.iter().map(|bow| Key(bow.0)));
    diesel::delete(bow_stops::table.filter(bow_stops::club_id.eq(Key(club.0)).and(theirs)))
        .execute(tx.conn())?;
    for &bow in bows {
        let Some(found) = bow_stopped(bow, incidents, clearings) else { continue };
        let row = BowStopRow {
            club_id: Key(club.0),
            bow_id: Key(bow.0),
            cause: found.stop.cause.as_str().to_owned(),
            at: Utc(found.stop.at),
            incident_id: Key(found.incident.0),
        };
        diesel::insert_into(bow_stops::table).values(row).execute(tx.conn())?;
    }
    Ok(())
}

/// Forgets what was derived of a club's bows, to derive it anew.
pub(crate) fn forget(tx: &mut Tx<'_>, club: ClubId) -> Result<(), StoreError> {
    let of_club = bow_stops::table.filter(bow_stops::club_id.eq(Key(club.0)));
    diesel::delete(of_club).execute(tx.conn())?;
    Ok(())
}

/// Why a bow must not be shot, if so.
pub fn of_bow(
    read: &mut Read<'_>,
    club: ClubId,
    bow: BowId,
) -> Result<Option<BowStop>, StoreError> {
    let row: Option<BowStopRow> = bow_stops::table
        .find((Key(club.0), Key(bow.0)))
        .select(BowStopRow::as_select())
        .get_result(read.conn())
        .optional()?;
    row.map(BowStop::try_from).transpose()
}

/// Why a bow must not be shot, in words: for its own last cause, or that of anything under it.
pub fn reason(
    read: &mut Read<'_>,
    club: &Club,
    bow: BowId,
    now: Timestamp,
) -> Result<Option<String>, StoreError> {
    let parts = fittings::under_bow(read, club.id, bow, now)?;
    let judged = due::of_parts(read, club, &parts, now)?;
    let stops: Vec<Stop> = judged.iter().filter_map(|one| one.record.stop).collect();
    Ok(last_reason(of_bow(read, club.id, bow)?, &stops, &club.zone))
}

/// Every bow of a club that must not be shot, and why.
pub fn of_club(read: &mut Read<'_>, club: ClubId) -> Result<BTreeMap<BowId, BowStop>, StoreError> {
    let rows: Vec<BowStopRow> = bow_stops::table
        .filter(bow_stops::club_id.eq(Key(club.0)))
        .select(BowStopRow::as_select())
        .order(bow_stops::bow_id)
        .load(read.conn())?;
    rows.into_iter().map(|row| Ok((BowId(row.bow_id.0), row.try_into()?))).collect()
}
