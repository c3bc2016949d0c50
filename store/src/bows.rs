//! Bows.

use std::collections::BTreeMap;

use diesel::prelude::*;
use domain::{
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    ids::{BowId, ClubId, MemberId},
    text::Name,
};

use crate::{
    Page, Read, StoreError, Tx,
    error::changed_once,
    schema::bows,
    sql_types::{Key, Utc},
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(
    table_name = bows,
    primary_key(club_id, id),
    treat_none_as_default_value = false,
    treat_none_as_null = true
)]
struct BowRow {
    club_id: Key,
    id: Key,
    name: String,
    division: String,
    bow_length_in: f64,
    draw_weight_lbf: f64,
    owner_member_id: Option<Key>,
    archer_member_id: Option<Key>,
    keeper_member_id: Option<Key>,
    created_at: Utc,
    version: i32,
}

impl BowRow {
    fn of(club: ClubId, bow: &Bow) -> Self {
        let member = |id: Option<MemberId>| id.map(|id| Key(id.0));
        Self {
            club_id: Key(club.0),
            id: Key(bow.id.0),
            name: bow.name.to_string(),
            division: bow.division.as_str().to_owned(),
            bow_length_in: bow.length.get(),
            draw_weight_lbf: bow.draw_weight.get(),
            owner_member_id: member(bow.owner),
            archer_member_id: member(bow.archer),
            keeper_member_id: member(bow.keeper),
            created_at: Utc(bow.created_at),
            version: bow.version,
        }
    }
}

impl TryFrom<BowRow> for Bow {
    type Error = StoreError;

    fn try_from(row: BowRow) -> Result<Self, StoreError> {
        let bad = |column, found: &dyn ToString| StoreError::Inconsistent {
            table: "bows",
            column,
            id: row.id.0,
            found: found.to_string(),
        };
        let member = |key: Option<Key>| key.map(|key| MemberId(key.0));
        Ok(Self {
            id: BowId(row.id.0),
            name: Name::parse(&row.name).map_err(|_bad| bad("name", &row.name))?,
            division: Division::parse(&row.division)
                .ok_or_else(|| bad("division", &row.division))?,
            length: BowLengthIn::new(row.bow_length_in)
                .map_err(|_bad| bad("bow_length_in", &row.bow_length_in))?,
            draw_weight: DrawWeightLbf::new(row.draw_weight_lbf)
                .map_err(|_bad| bad("draw_weight_lbf", &row.draw_weight_lbf))?,
            owner: member(row.owner_member_id),
            archer: member(row.archer_member_id),
            keeper: member(row.keeper_member_id),
            version: row.version,
            created_at: row.created_at.0,
        })
    }
}

/// Adds a bow. Its people must be members of the club.
pub fn add(tx: &mut Tx<'_>, club: ClubId, bow: &Bow) -> Result<(), StoreError> {
    diesel::insert_into(bows::table).values(BowRow::of(club, bow)).execute(tx.conn())?;
    Ok(())
}

/// Keeps a changed bow. `bow.version` is the one that it was read with; the one that is kept comes
/// after it. A conflict, if somebody else changed it meanwhile.
pub fn change(tx: &mut Tx<'_>, club: ClubId, bow: &Bow) -> Result<Bow, StoreError> {
    let changed = Bow { version: bow.version + 1, ..bow.clone() };
    let as_read =
        bows::table.find((Key(club.0), Key(bow.id.0))).filter(bows::version.eq(bow.version));
    let kept = diesel::update(as_read).set(BowRow::of(club, &changed)).execute(tx.conn())?;
    changed_once(kept).map(|()| changed)
}

/// One bow.
pub fn get(read: &mut Read<'_>, club: ClubId, bow: BowId) -> Result<Bow, StoreError> {
    bows::table
        .find((Key(club.0), Key(bow.0)))
        .select(BowRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "bow" })?
        .try_into()
}

/// Bows of a club, in the order they were added.
pub fn list(read: &mut Read<'_>, club: ClubId, page: Page) -> Result<Vec<Bow>, StoreError> {
    bows::table
        .filter(bows::club_id.eq(Key(club.0)).and(bows::id.gt(page.after_key())))
        .select(BowRow::as_select())
        .order(bows::id)
        .limit(page.limit.into())
        .load(read.conn())?
        .into_iter()
        .map(Bow::try_from)
        .collect()
}

/// Those of these bows that there are.
pub fn some(
    read: &mut Read<'_>,
    club: ClubId,
    ids: &[BowId],
) -> Result<BTreeMap<BowId, Bow>, StoreError> {
    let asked = bows::id.eq_any(ids.iter().map(|bow| Key(bow.0)));
    let rows: Vec<BowRow> = bows::table
        .filter(bows::club_id.eq(Key(club.0)).and(asked))
        .select(BowRow::as_select())
        .order(bows::id)
        .load(read.conn())?;
    rows.into_iter().map(|row| Ok((BowId(row.id.0), row.try_into()?))).collect()
}

/// Every bow of a club, in the order they were added.
pub fn all(read: &mut Read<'_>, club: ClubId) -> Result<Vec<Bow>, StoreError> {
    list(read, club, Page { after: None, limit: u32::MAX })
}
