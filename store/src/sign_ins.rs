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
