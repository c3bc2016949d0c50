//! Calendars that people subscribed to, known by the hash of what stands in their address.

use diesel::prelude::*;
use domain::{
    calendar::{Feed, FeedScope},
    ids::{ClubId, FeedId, MemberId},
    members::Role,
    text::Name,
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx,
    schema::{feeds, members},
    sql_types::{Day, Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = feeds, treat_none_as_default_value = false)]
struct FeedRow {
    club_id: Key,
    id: Key,
    member_id: Key,
    scope: String,
    name: String,
    token_hash: String,
    created_at: Utc,
    /// Never set: reading a calendar writes nothing.
    last_read_on: Option<Day>,
    revoked_at: Option<Utc>,
}

impl TryFrom<FeedRow> for Feed {
    type Error = StoreError;

    fn try_from(row: FeedRow) -> Result<Self, StoreError> {
        let bad = |column, found: &str| StoreError::Inconsistent {
            table: "feeds",
            column,
            id: row.id.0,
            found: found.to_owned(),
        };
        Ok(Self {
            id: FeedId(row.id.0),
            member: MemberId(row.member_id.0),
            name: Name::parse(&row.name).map_err(|_bad| bad("name", &row.name))?,
            scope: FeedScope::parse(&row.scope).ok_or_else(|| bad("scope", &row.scope))?,
            created_at: row.created_at.0,
            revoked_at: row.revoked_at.map(|at| at.0),
        })
    }
}

/// Keeps a calendar that is known by that hash from now on.
pub fn add(tx: &mut Tx<'_>, club: ClubId, feed: &Feed, token_hash: &str) -> Result<(), StoreError> {
    let row = FeedRow {
        club_id: Key(club.0),
        id: Key(feed.id.0),
        member_id: Key(feed.member.0),
        scope: feed.scope.as_str().to_owned(),
        name: feed.name.to_string(),
        token_hash: token_hash.to_owned(),
        created_at: Utc(feed.created_at),
        last_read_on: None,
        revoked_at: feed.revoked_at.map(Utc),
    };
    diesel::insert_into(feeds::table).values(row).execute(tx.conn())?;
    Ok(())
}

/// One calendar, revoked or not.
pub fn get(read: &mut Read<'_>, club: ClubId, feed: FeedId) -> Result<Feed, StoreError> {
    feeds::table
        .find((Key(club.0), Key(feed.0)))
        .select(FeedRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "calendar" })?
        .try_into()
}

/// The calendars of a member that were not revoked, in the order they were made.
pub fn of_member(
    read: &mut Read<'_>,
    club: ClubId,
    member: MemberId,
) -> Result<Vec<Feed>, StoreError> {
    let theirs = feeds::club_id.eq(Key(club.0)).and(feeds::member_id.eq(Key(member.0)));
    feeds::table
        .filter(theirs.and(feeds::revoked_at.is_null()))
        .select(FeedRow::as_select())
        .order(feeds::id)
        .load(read.conn())?
        .into_iter()
        .map(Feed::try_from)
        .collect()
}

/// Takes a calendar out of use. One that is out of use already stays so since when it was.
pub fn revoke(
    tx: &mut Tx<'_>,
    club: ClubId,
    feed: FeedId,
    now: Timestamp,
) -> Result<(), StoreError> {
    let row = feeds::table.find((Key(club.0), Key(feed.0)));
    diesel::update(row.filter(feeds::revoked_at.is_null()))
        .set(feeds::revoked_at.eq(Some(Utc(now))))
        .execute(tx.conn())?;
    Ok(())
}

/// A calendar that is read, and for whom.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// Of which club.
    pub club: ClubId,
    /// Which calendar.
    pub feed: Feed,
    /// What its owner may do now.
    pub role: Role,
}

/// The calendar of that hash, if it is in use and its owner has not left. Its address alone says which
/// club that is.
pub fn reading(read: &mut Read<'_>, token_hash: &str) -> Result<Option<Reading>, StoreError> {
    let theirs = members::club_id.eq(feeds::club_id).and(members::id.eq(feeds::member_id));
    let found: Option<(FeedRow, String)> = feeds::table
        .inner_join(members::table.on(theirs))
        .filter(feeds::token_hash.eq(token_hash)) // cross-club: who reads it has said no club
        .filter(feeds::revoked_at.is_null().and(members::left_at.is_null()))
        .select((FeedRow::as_select(), members::role))
        .get_result(read.conn())
        .optional()?;
    let Some((row, role)) = found else { return Ok(None) };
    let (club, member) = (ClubId(row.club_id.0), row.member_id.0);
    let role = Role::parse(&role).ok_or_else(|| StoreError::Inconsistent {
        table: "members",
        column: "role",
        id: member,
        found: role.clone(),
    })?;
    Ok(Some(Reading { club, feed: row.try_into()?, role }))
}
