//! Which parts must not be shot, and why: derived from findings, incidents and inspections in the
//! transaction that changes one of them.

use std::collections::BTreeMap;

use diesel::prelude::*;
use domain::{
    ids::{ClubId, PartId},
    incidents::IncidentKind,
    rules::{Stop, StopCause},
    upkeep::Finding,
};

use crate::{
    Read, StoreError,
    schema::stops,
    sql_types::{Key, Utc},
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
