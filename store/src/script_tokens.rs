//! Tokens of scripts, known by the hash of what a script shows.

use diesel::prelude::*;
use domain::{
    ids::{ClubId, MemberId, ScriptTokenId},
    members::Role,
    script_tokens::{Scope, ScriptToken},
    text::Name,
    time::Zone,
};
use jiff::{Timestamp, civil::Date};

use crate::{
    Read, StoreError, Tx,
    schema::{clubs, members, script_tokens},
    sql_types::{Day, Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = script_tokens, treat_none_as_default_value = false)]
struct TokenRow {
    club_id: Key,
    id: Key,
    member_id: Key,
    name: String,
    scope: String,
    token_hash: String,
    created_at: Utc,
    last_used_on: Option<Day>,
    revoked_at: Option<Utc>,
}

impl TryFrom<TokenRow> for ScriptToken {
    type Error = StoreError;

    fn try_from(row: TokenRow) -> Result<Self, StoreError> {
        Ok(Self {
            id: ScriptTokenId(row.id.0),
            member: MemberId(row.member_id.0),
            name: Name::parse(&row.name).map_err(|_bad| bad("name", row.id, &row.name))?,
            scope: Scope::parse(&row.scope).ok_or_else(|| bad("scope", row.id, &row.scope))?,
            created_at: row.created_at.0,
            last_used_on: row.last_used_on.map(|day| day.0),
            revoked_at: row.revoked_at.map(|at| at.0),
        })
    }
}

fn bad(column: &'static str, id: Key, found: &str) -> StoreError {
    let (table, found) = ("script_tokens", found.to_owned());
    StoreError::Inconsistent { table, column, id: id.0, found }
}

/// Keeps a token that is known by that hash from now on.
pub fn add(
    tx: &mut Tx<'_>,
    club: ClubId,
    token: &ScriptToken,
    token_hash: &str,
) -> Result<(), StoreError> {
    let row = TokenRow {
        club_id: Key(club.0),
        id: Key(token.id.0),
        member_id: Key(token.member.0),
        name: token.name.to_string(),
        scope: token.scope.as_str().to_owned(),
        token_hash: token_hash.to_owned(),
        created_at: Utc(token.created_at),
        last_used_on: token.last_used_on.map(Day),
        revoked_at: token.revoked_at.map(Utc),
    };
    diesel::insert_into(script_tokens::table).values(row).execute(tx.conn())?;
    Ok(())
}

/// One token, revoked or not.
pub fn get(
    read: &mut Read<'_>,
    club: ClubId,
    token: ScriptTokenId,
) -> Result<ScriptToken, StoreError> {
    script_tokens::table
        .find((Key(club.0), Key(token.0)))
        .select(TokenRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "token" })?
        .try_into()
}

/// The tokens of a member that were not revoked, in the order they were made.
pub fn of_member(
    read: &mut Read<'_>,
    club: ClubId,
    member: MemberId,
) -> Result<Vec<ScriptToken>, StoreError> {
    let theirs =
        script_tokens::club_id.eq(Key(club.0)).and(script_tokens::member_id.eq(Key(member.0)));
    script_tokens::table
        .filter(theirs.and(script_tokens::revoked_at.is_null()))
        .select(TokenRow::as_select())
        .order(script_tokens::id)
        .load(read.conn())?
        .into_iter()
        .map(ScriptToken::try_from)
        .collect()
}

/// Takes a token out of use. One that is out of use already stays so since when it was.
pub fn revoke(
    tx: &mut Tx<'_>,
    club: ClubId,
    token: ScriptTokenId,
    now: Timestamp,
) -> Result<(), StoreError> {
    let row = script_tokens::table.find((Key(club.0), Key(token.0)));
    diesel::update(row.filter(script_tokens::revoked_at.is_null()))
        .set(script_tokens::revoked_at.eq(Some(Utc(now))))
        .execute(tx.conn())?;
    Ok(())
}

/// Who a script acts for, and what it may do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bearer {
    /// In which club.
    pub club: ClubId,
    /// On whose behalf.
    pub member: MemberId,
    /// What that member may do.
    pub role: Role,
    /// By which token.
    pub token: ScriptTokenId,
    /// For what.
    pub scope: Scope,
    /// Where the club shoots.
    pub zone: Zone,
    /// The club's date when it was last used, if it was.
    pub last_used_on: Option<Date>,
}

/// Who bears the token of that hash, if it is in use and its member has not left. The token alone says
/// which club that is.
pub fn bearer(read: &mut Read<'_>, token_hash: &str) -> Result<Option<Bearer>, StoreError> {
    type Found = (TokenRow, String, String);
    let theirs =
        members::club_id.eq(script_tokens::club_id).and(members::id.eq(script_tokens::member_id));
    let found: Option<Found> = script_tokens::table
        .inner_join(members::table.on(theirs))
        .inner_join(clubs::table.on(clubs::club_id.eq(script_tokens::club_id)))
        .filter(script_tokens::token_hash.eq(token_hash)) // cross-club: who bears it has said no club
        .filter(script_tokens::revoked_at.is_null().and(members::left_at.is_null()))
        .select((TokenRow::as_select(), members::role, clubs::time_zone))
        .get_result(read.conn())
        .optional()?;
    let Some((row, role, zone)) = found else { return Ok(None) };
    let of_other = |table, column, id: Key, found: &str| StoreError::Inconsistent {
        table,
        column,
        id: id.0,
        found: found.to_owned(),
    };
    Ok(Some(Bearer {
        club: ClubId(row.club_id.0),
        member: MemberId(row.member_id.0),
        role: Role::parse(&role)
            .ok_or_else(|| of_other("members", "role", row.member_id, &role))?,
        token: ScriptTokenId(row.id.0),
        scope: Scope::parse(&row.scope).ok_or_else(|| bad("scope", row.id, &row.scope))?,
        zone: Zone::parse(&zone)
            .map_err(|_bad| of_other("clubs", "time_zone", row.club_id, &zone))?,
        last_used_on: row.last_used_on.map(|day| day.0),
    }))
}

/// Notes that a token was used on a day.
pub fn used(
    tx: &mut Tx<'_>,
    club: ClubId,
    token: ScriptTokenId,
    on: Date,
) -> Result<(), StoreError> {
    diesel::update(script_tokens::table.find((Key(club.0), Key(token.0))))
        .set(script_tokens::last_used_on.eq(Some(Day(on))))
        .execute(tx.conn())?;
    Ok(())
}
