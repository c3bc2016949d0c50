//! Sign-ins: one for each device that somebody signed in on, with the generation of its refresh
//! token, and whether it still stands.

use diesel::prelude::*;
use domain::{
    ids::{ClubId, MemberId, SignInId},
    members::Role,
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx,
    schema::{members, sign_ins},
    sql_types::{Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = sign_ins, treat_none_as_default_value = false)]
struct SignInRow {
    club_id: Key,
    id: Key,
    member_id: Key,
    generation: i32,
    created_at: Utc,
    expires_at: Utc,
    ended_at: Option<Utc>,
}

/// A device that somebody signed in on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SignIn {
    /// Which sign-in.
    pub id: SignInId,
    /// Whose.
    pub member: MemberId,
    /// How often its refresh token was exchanged.
    pub generation: i32,
    /// Since when.
    pub created_at: Timestamp,
    /// Until when, unless it is ended before.
    pub expires_at: Timestamp,
    /// When it was ended, if it was.
    pub ended_at: Option<Timestamp>,
}

impl From<SignInRow> for SignIn {
    fn from(row: SignInRow) -> Self {
        Self {
            id: SignInId(row.id.0),
            member: MemberId(row.member_id.0),
            generation: row.generation,
            created_at: row.created_at.0,
            expires_at: row.expires_at.0,
            ended_at: row.ended_at.map(|at| at.0),
        }
    }
}

/// Notes a new sign-in.
pub fn add(tx: &mut Tx<'_>, club: ClubId, sign_in: &SignIn) -> Result<(), StoreError> {
    let row = SignInRow {
        club_id: Key(club.0),
        id: Key(sign_in.id.0),
        member_id: Key(sign_in.member.0),
        generation: sign_in.generation,
        created_at: Utc(sign_in.created_at),
        expires_at: Utc(sign_in.expires_at),
        ended_at: sign_in.ended_at.map(Utc),
    };
    diesel::insert_into(sign_ins::table).values(row).execute(tx.conn())?;
    Ok(())
}

/// What became of a request to go on being signed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refreshed {
    /// It is the next generation's turn.
    Rotated(SignIn),
    /// The generation had been exchanged before: whoever shows it, the true owner or a thief, one of
    /// them has a copy. The sign-in was ended.
    Replayed,
    /// There is no such sign-in that stands, or it never had that generation.
    Gone,
}

/// Exchanges a generation of a sign-in for the next, which holds until `expires_at`. Of two that show
/// the same one at once, one rotates and the other replays.
pub fn refresh(
    tx: &mut Tx<'_>,
    club: ClubId,
    (sign_in, generation): (SignInId, i32),
    expires_at: Timestamp,
    now: Timestamp,
) -> Result<Refreshed, StoreError> {
    if standing(tx, club, sign_in, now)?.is_none() {
        return Ok(Refreshed::Gone);
    }
    let row = sign_ins::table.find((Key(club.0), Key(sign_in.0)));
    let stands = sign_ins::ended_at.is_null().and(sign_ins::generation.eq(generation));
    let rotated = diesel::update(row.filter(stands))
        .set((
            sign_ins::generation.eq(generation.saturating_add(1)),
            sign_ins::expires_at.eq(Utc(expires_at)),
        ))
        .execute(tx.conn())?;
    let row = row.select(SignInRow::as_select()).get_result(tx.conn())?;
    if rotated == 1 {
        return Ok(Refreshed::Rotated(row.into()));
    }
    if row.generation <= generation {
        return Ok(Refreshed::Gone);
    }
    end(tx, club, sign_in, now)?;
    Ok(Refreshed::Replayed)
}

/// Ends a sign-in, if it has not ended before: what it lets in is out at once.
pub fn end(
    tx: &mut Tx<'_>,
    club: ClubId,
    sign_in: SignInId,
    now: Timestamp,
) -> Result<(), StoreError> {
    let row = sign_ins::table.find((Key(club.0), Key(sign_in.0)));
    diesel::update(row.filter(sign_ins::ended_at.is_null()))
        .set(sign_ins::ended_at.eq(Some(Utc(now))))
        .execute(tx.conn())?;
    Ok(())
}

/// Forgets, in every club, the sign-ins that ended or ran out before a moment; says how many.
pub fn forget(tx: &mut Tx<'_>, before: Timestamp) -> Result<usize, StoreError> {
    let ended = sign_ins::ended_at.lt(Utc(before)).assume_not_null();
    let over = sign_ins::expires_at.lt(Utc(before)).or(ended); // cross-club: old ones of all clubs are swept
    Ok(diesel::delete(sign_ins::table.filter(over)).execute(tx.conn())?)
}

/// What a member may do now, if the sign-in still stands and they have not left.
pub fn standing(
    read: &mut Read<'_>,
    club: ClubId,
    sign_in: SignInId,
    now: Timestamp,
) -> Result<Option<(MemberId, Role)>, StoreError> {
    let theirs = members::club_id.eq(sign_ins::club_id).and(members::id.eq(sign_ins::member_id));
    let stands = sign_ins::ended_at
        .is_null()
        .and(sign_ins::expires_at.gt(Utc(now)))
        .and(members::left_at.is_null());
    let found: Option<(Key, String)> = sign_ins::table
        .inner_join(members::table.on(theirs))
        .filter(sign_ins::club_id.eq(Key(club.0)).and(sign_ins::id.eq(Key(sign_in.0))))
        .filter(stands)
        .select((members::id, members::role))
        .get_result(read.conn())
        .optional()?;
    found
        .map(|(member, role)| match Role::parse(&role) {
            Some(role) => Ok((MemberId(member.0), role)),
            None => Err(StoreError::Inconsistent {
                table: "members",
                column: "role",
                id: member.0,
                found: role,
            }),
        })
        .transpose()
}
