//! Clubs.

use diesel::prelude::*;
use domain::{
    clubs::Club,
    ids::ClubId,
    text::Name,
    time::{Zone, parse_time_of_day},
};

use crate::{
    Read, StoreError, Tx, dialect,
    schema::clubs,
    sql_types::{Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = clubs, treat_none_as_default_value = false)]
struct ClubRow {
    club_id: Key,
    name: String,
    time_zone: String,
    digest_at: String,
    created_at: Utc,
}

impl TryFrom<ClubRow> for Club {
    type Error = StoreError;

    fn try_from(row: ClubRow) -> Result<Self, StoreError> {
        let bad = |column, found: &str| StoreError::Inconsistent {
            table: "clubs",
            column,
            id: row.club_id.0,
            found: found.to_owned(),
        };
        Ok(Self {
            id: ClubId(row.club_id.0),
            name: Name::parse(&row.name).map_err(|_bad| bad("name", &row.name))?,
            zone: Zone::parse(&row.time_zone).map_err(|_bad| bad("time_zone", &row.time_zone))?,
            digest_at: parse_time_of_day(&row.digest_at)
                .map_err(|_bad| bad("digest_at", &row.digest_at))?,
            created_at: row.created_at.0,
        })
    }
}

/// Adds a club.
pub fn add(tx: &mut Tx<'_>, club: &Club) -> Result<(), StoreError> {
    let row = ClubRow {
        club_id: Key(club.id.0),
        name: club.name.to_string(),
        time_zone: club.zone.name().to_owned(),
        digest_at: club.digest_at.strftime("%H:%M").to_string(),
        created_at: Utc(club.created_at),
    };
    diesel::insert_into(clubs::table).values(row).execute(tx.conn())?;
    Ok(())
}

/// One club.
pub fn get(read: &mut Read<'_>, club: ClubId) -> Result<Club, StoreError> {
    clubs::table
        .find(Key(club.0))
        .select(ClubRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "club" })?
        .try_into()
}

/// Which clubs there are, oldest first.
pub fn ids(read: &mut Read<'_>) -> Result<Vec<ClubId>, StoreError> {
    let keys: Vec<Key> =
        clubs::table.select(clubs::club_id).order(clubs::club_id).load(read.conn())?;
    Ok(keys.into_iter().map(|key| ClubId(key.0)).collect())
}

/// Whether there is no club yet. In a transaction it stays so until the transaction ends.
pub fn none_yet(tx: &mut Tx<'_>) -> Result<bool, StoreError> {
    dialect::hold_clubs(tx)?;
    Ok(clubs::table.count().get_result::<i64>(tx.conn())? == 0)
}
