//! Incidents: what happened to bows. One that forbids shooting changes which parts must not be shot.

use std::collections::BTreeSet;

use diesel::prelude::*;
use domain::{
    ids::{BowId, ClubId, IncidentId, MemberId},
    incidents::{Incident, IncidentKind},
    text::Note,
};

use crate::{
    Page, Read, StoreError, Tx, bows,
    dialect::{self, Hold},
    schema::incidents,
    sql_types::{Key, Utc},
    stops,
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = incidents)]
struct IncidentRow {
    club_id: Key,
    id: Key,
    bow_id: Key,
    kind: String,
    at: Utc,
    note: String,
    entered_by_member_id: Key,
    received_at: Utc,
}

impl TryFrom<IncidentRow> for Incident {
    type Error = StoreError;

    fn try_from(row: IncidentRow) -> Result<Self, StoreError> {
        let bad = |column, found: &str| StoreError::Inconsistent {
            table: "incidents",
            column,
            id: row.id.0,
            found: found.to_owned(),
        };
        Ok(Self {
            id: IncidentId(row.id.0),
            bow_id: BowId(row.bow_id.0),
            kind: IncidentKind::parse(&row.kind).ok_or_else(|| bad("kind", &row.kind))?,
            at: row.at.0,
            note: Note::parse(&row.note).map_err(|_bad| bad("note", &row.note))?,
            entered_by: MemberId(row.entered_by_member_id.0),
            received_at: row.received_at.0,
        })
    }
}

/// Records what happened to a bow, and stops what must not be shot for it.
pub fn add(tx: &mut Tx<'_>, club: ClubId, incident: &Incident) -> Result<(), StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    bows::get(tx, club, incident.bow_id)?;
    let row = IncidentRow {
        club_id: Key(club.0),
        id: Key(incident.id.0),
        bow_id: Key(incident.bow_id.0),
        kind: incident.kind.as_str().to_owned(),
        at: Utc(incident.at),
        note: incident.note.as_str().to_owned(),
        entered_by_member_id: Key(incident.entered_by.0),
        received_at: Utc(incident.received_at),
    };
    diesel::insert_into(incidents::table).values(row).execute(tx.conn())?;
    if !incident.kind.forbids_shooting() {
        return Ok(());
    }
    stops::reckon_bow(tx, club, incident.bow_id)
}

/// Incidents of a club or of one bow, in the order they were entered.
pub fn list(
    read: &mut Read<'_>,
    club: ClubId,
    bow: Option<BowId>,
    page: Page,
) -> Result<Vec<Incident>, StoreError> {
    let mine = incidents::club_id.eq(Key(club.0)).and(incidents::id.gt(page.after_key()));
    let query = incidents::table.filter(mine).select(IncidentRow::as_select()).order(incidents::id);
    let query = query.limit(page.limit.into());
    let rows = match bow {
        Some(bow) => query.filter(incidents::bow_id.eq(Key(bow.0))).load(read.conn()), // unordered: the order is set above
        None => query.load(read.conn()), // unordered: the order is set above
    };
    rows?.into_iter().map(Incident::try_from).collect()
}

/// Every incident of these bows, oldest first.
pub(crate) fn of_bows(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &BTreeSet<BowId>,
) -> Result<Vec<Incident>, StoreError> {
    let theirs = incidents::bow_id.eq_any(bows.iter().map(|bow| Key(bow.0)));
    incidents::table
        .filter(incidents::club_id.eq(Key(club.0)).and(theirs))
        .select(IncidentRow::as_select())
        .order((incidents::at, incidents::id))
        .load(read.conn())?
        .into_iter()
        .map(Incident::try_from)
        .collect()
}

/// The words of what forbids shooting.
fn forbidding_words() -> impl Iterator<Item = &'static str> {
    let kinds = IncidentKind::ALL.iter().filter(|kind| kind.forbids_shooting());
    kinds.map(|kind| kind.as_str())
}

/// The bows of a club to which something happened that forbids shooting, cleared since or not.
pub(crate) fn bows_forbidden(read: &mut Read<'_>, club: ClubId) -> Result<Vec<BowId>, StoreError> {
    let keys: Vec<Key> = incidents::table
        .filter(incidents::club_id.eq(Key(club.0)))
        .filter(incidents::kind.eq_any(forbidding_words()))
        .select(incidents::bow_id)
        .distinct()
        .order(incidents::bow_id)
        .load(read.conn())?;
    Ok(keys.into_iter().map(|key| BowId(key.0)).collect())
}

/// Those incidents of these bows that forbid shooting, oldest first.
pub(crate) fn forbidding(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &BTreeSet<BowId>,
) -> Result<Vec<Incident>, StoreError> {
    if bows.is_empty() {
        return Ok(Vec::new());
    }
    let theirs = incidents::bow_id.eq_any(bows.iter().map(|bow| Key(bow.0)));
    let forbids = incidents::kind.eq_any(forbidding_words());
    incidents::table
        .filter(incidents::club_id.eq(Key(club.0)).and(theirs).and(forbids))
        .select(IncidentRow::as_select())
        .order((incidents::at, incidents::id))
        .load(read.conn())?
        .into_iter()
        .map(Incident::try_from)
        .collect()
}

/// Every incident of a club of these kinds, oldest first.
pub(crate) fn of_kinds(
    read: &mut Read<'_>,
    club: ClubId,
    kinds: &BTreeSet<IncidentKind>,
) -> Result<Vec<Incident>, StoreError> {
    let kinds = incidents::kind.eq_any(kinds.iter().map(|kind| kind.as_str()));
    incidents::table
        .filter(incidents::club_id.eq(Key(club.0)).and(kinds))
        .select(IncidentRow::as_select())
        .order((incidents::at, incidents::id))
        .load(read.conn())?
        .into_iter()
        .map(Incident::try_from)
        .collect()
}
