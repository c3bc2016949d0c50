//! Inspections of bows as a whole, which lift what forbids shooting them.

use std::collections::BTreeSet;

use diesel::prelude::*;
use domain::{
    clearances::BowClearance,
    ids::{BowId, ClearanceId, ClubId, MemberId},
    text::Note,
};

use crate::{
    Read, StoreError, Tx, bows,
    dialect::{self, Hold},
    schema::bow_clearances,
    sql_types::{Key, Utc},
    stops,
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = bow_clearances)]
struct ClearanceRow {
    club_id: Key,
    id: Key,
    bow_id: Key,
    at: Utc,
    reason: String,
    entered_by_member_id: Key,
    received_at: Utc,
}

impl TryFrom<ClearanceRow> for BowClearance {
    type Error = StoreError;

    fn try_from(row: ClearanceRow) -> Result<Self, StoreError> {
        let reason = Note::parse(&row.reason).map_err(|_bad| StoreError::Inconsistent {
            table: "bow_clearances",
            column: "reason",
            id: row.id.0,
            found: row.reason.clone(),
        })?;
        Ok(Self {
            id: ClearanceId(row.id.0),
            bow_id: BowId(row.bow_id.0),
            at: row.at.0,
            reason,
            entered_by: MemberId(row.entered_by_member_id.0),
            received_at: row.received_at.0,
        })
    }
}

/// Records that a bow was inspected as a whole, and lifts what that lifts.
pub fn add(tx: &mut Tx<'_>, club: ClubId, clearance: &BowClearance) -> Result<(), StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    bows::get(tx, club, clearance.bow_id)?;
    let row = ClearanceRow {
        club_id: Key(club.0),
        id: Key(clearance.id.0),
        bow_id: Key(clearance.bow_id.0),
        at: Utc(clearance.at),
        reason: clearance.reason.as_str().to_owned(),
        entered_by_member_id: Key(clearance.entered_by.0),
        received_at: Utc(clearance.received_at),
    };
    diesel::insert_into(bow_clearances::table).values(row).execute(tx.conn())?;
    stops::reckon_bow(tx, club, clearance.bow_id)
}

/// Every inspection of a bow as a whole, oldest first.
pub fn of_bow(
    read: &mut Read<'_>,
    club: ClubId,
    bow: BowId,
) -> Result<Vec<BowClearance>, StoreError> {
    of_bows(read, club, &BTreeSet::from([bow]))
}

/// Every inspection of these bows as a whole, oldest first.
pub(crate) fn of_bows(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &BTreeSet<BowId>,
) -> Result<Vec<BowClearance>, StoreError> {
    let theirs = bow_clearances::bow_id.eq_any(bows.iter().map(|bow| Key(bow.0)));
    bow_clearances::table
        .filter(bow_clearances::club_id.eq(Key(club.0)).and(theirs))
        .select(ClearanceRow::as_select())
        .order((bow_clearances::at, bow_clearances::id))
        .load(read.conn())?
        .into_iter()
        .map(BowClearance::try_from)
        .collect()
}
