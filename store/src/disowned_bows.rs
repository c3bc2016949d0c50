//! Who said of which bow that it is not theirs to look after. Whose a bow is stands with the bow; this is
//! what a coach has to look at.

use std::collections::BTreeSet;

use diesel::prelude::*;
use domain::ids::{BowId, ClubId, MemberId};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx,
    dialect::on_each,
    schema::disowned_bows,
    sql_types::{Key, Utc},
};

/// Somebody says so; saying it twice changes nothing.
pub fn add(
    tx: &mut Tx<'_>,
    club: ClubId,
    bow: BowId,
    member: MemberId,
    at: Timestamp,
) -> Result<(), StoreError> {
    let row = (
        disowned_bows::club_id.eq(Key(club.0)),
        disowned_bows::bow_id.eq(Key(bow.0)),
        disowned_bows::member_id.eq(Key(member.0)),
        disowned_bows::at.eq(Utc(at)),
    );
    on_each!(tx.conn(), c => {
        diesel::insert_into(disowned_bows::table).values(row).on_conflict_do_nothing().execute(c)
    })?;
    Ok(())
}

/// Who said so of a bow.
pub fn of_bow(read: &mut Read<'_>, club: ClubId, bow: BowId) -> Result<Vec<MemberId>, StoreError> {
    let keys: Vec<Key> = disowned_bows::table
        .filter(disowned_bows::club_id.eq(Key(club.0)).and(disowned_bows::bow_id.eq(Key(bow.0))))
        .select(disowned_bows::member_id)
        .order(disowned_bows::member_id)
        .load(read.conn())?;
    Ok(keys.into_iter().map(|key| MemberId(key.0)).collect())
}

/// Who said so of which bow.
pub fn of_club(
    read: &mut Read<'_>,
    club: ClubId,
) -> Result<BTreeSet<(BowId, MemberId)>, StoreError> {
    let rows: Vec<(Key, Key)> = disowned_bows::table
        .filter(disowned_bows::club_id.eq(Key(club.0)))
        .select((disowned_bows::bow_id, disowned_bows::member_id))
        .order((disowned_bows::bow_id, disowned_bows::member_id))
        .load(read.conn())?;
    Ok(rows.into_iter().map(|(bow, member)| (BowId(bow.0), MemberId(member.0))).collect())
}

/// The people of a bow were set anew: what was said before does not count any more.
pub fn clear(tx: &mut Tx<'_>, club: ClubId, bow: BowId) -> Result<(), StoreError> {
    let of_bow = disowned_bows::club_id.eq(Key(club.0)).and(disowned_bows::bow_id.eq(Key(bow.0)));
    diesel::delete(disowned_bows::table.filter(of_bow)).execute(tx.conn())?;
    Ok(())
}
