//! What lets somebody in: their password, the devices they signed in on, their scripts' tokens and the
//! links that they were mailed; and putting an end to it.

use std::collections::BTreeSet;

use diesel::prelude::*;
use domain::{
    ids::{ClubId, MemberId, SignInId},
    links::Purpose,
    members::{EmailAddress, Member},
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx,
    dialect::on_each,
    error::changed_once,
    schema::{logins, one_time_links, script_tokens, sign_ins},
    sql_types::{Key, Utc},
};

/// Those of a club who chose a password.
pub fn joined(read: &mut Read<'_>, club: ClubId) -> Result<BTreeSet<MemberId>, StoreError> {
    let keys: Vec<Key> = logins::table
        .filter(logins::club_id.eq(Key(club.0)))
        .select(logins::member_id)
        .order(logins::member_id)
        .load(read.conn())?;
    Ok(keys.into_iter().map(|key| MemberId(key.0)).collect())
}

/// The hash of the password that a member chose, if they did.
pub fn password_hash(
    read: &mut Read<'_>,
    club: ClubId,
    member: MemberId,
) -> Result<Option<String>, StoreError> {
    let theirs = logins::club_id.eq(Key(club.0)).and(logins::member_id.eq(Key(member.0)));
    let hash = logins::table.filter(theirs).select(logins::password_hash);
    Ok(hash.get_result(read.conn()).optional()?)
}

/// Puts a password's hash in the place of `before`. A conflict, if that is not theirs any more.
pub fn replace_password(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    before: &str,
    after: &str,
) -> Result<(), StoreError> {
    let theirs = logins::club_id.eq(Key(club.0)).and(logins::member_id.eq(Key(member.0)));
    let as_read = logins::table.filter(theirs.and(logins::password_hash.eq(before)));
    let kept = diesel::update(as_read).set(logins::password_hash.eq(after)).execute(tx.conn())?;
    changed_once(kept)
}

/// Puts a password's hash in the place of whatever was theirs before.
pub fn set_password(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    hash: &str,
) -> Result<(), StoreError> {
    let theirs = logins::club_id.eq(Key(club.0)).and(logins::member_id.eq(Key(member.0)));
    let kept = diesel::update(logins::table.filter(theirs))
        .set(logins::password_hash.eq(hash))
        .execute(tx.conn())?;
    changed_once(kept)
}

/// Lets a member sign in by their address for the first time. `false` means that somebody signs in by
/// it already, here or in another club; then nothing is changed.
pub fn join(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: &Member,
    hash: &str,
) -> Result<bool, StoreError> {
    add_login(tx, club, (member.id, &member.email), hash)
}

fn add_login(
    tx: &mut Tx<'_>,
    club: ClubId,
    (member, address): (MemberId, &EmailAddress),
    hash: &str,
) -> Result<bool, StoreError> {
    let row = (
        logins::email.eq(address.as_str()),
        logins::club_id.eq(Key(club.0)),
        logins::member_id.eq(Key(member.0)),
        logins::password_hash.eq(hash),
    );
    let added = on_each!(tx.conn(), c => {
        diesel::insert_into(logins::table).values(row).on_conflict_do_nothing().execute(c)
    })?;
    Ok(added == 1)
}

/// Lets a member sign in by another address, if they can sign in at all. `false` means that somebody
/// signs in by it already, here or in another club: the transaction has to be given up.
pub fn move_sign_in(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    address: &EmailAddress,
) -> Result<bool, StoreError> {
    let Some(hash) = password_hash(tx, club, member)? else { return Ok(true) };
    forget_password(tx, club, member)?;
    add_login(tx, club, (member, address), &hash)
}

fn forget_password(tx: &mut Tx<'_>, club: ClubId, member: MemberId) -> Result<(), StoreError> {
    let theirs = logins::club_id.eq(Key(club.0)).and(logins::member_id.eq(Key(member.0)));
    diesel::delete(logins::table.filter(theirs)).execute(tx.conn())?;
    Ok(())
}

/// Signs a member out of every device, but not of the one of that sign-in.
pub fn end_sign_ins(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    but: Option<SignInId>,
    now: Timestamp,
) -> Result<(), StoreError> {
    let theirs = sign_ins::club_id.eq(Key(club.0)).and(sign_ins::member_id.eq(Key(member.0)));
    // No sign-in has the nil id.
    let but = Key(but.map_or(uuid::Uuid::nil(), |sign_in| sign_in.0));
    let open = theirs.and(sign_ins::ended_at.is_null()).and(sign_ins::id.ne(but));
    diesel::update(sign_ins::table.filter(open))
        .set(sign_ins::ended_at.eq(Some(Utc(now))))
        .execute(tx.conn())?;
    Ok(())
}

/// When a member was sent invitations since a moment, the earliest first.
pub fn invited_since(
    read: &mut Read<'_>,
    club: ClubId,
    member: MemberId,
    since: Timestamp,
) -> Result<Vec<Timestamp>, StoreError> {
    let theirs =
        one_time_links::club_id.eq(Key(club.0)).and(one_time_links::member_id.eq(Key(member.0)));
    let times: Vec<Utc> = one_time_links::table
        .filter(theirs.and(one_time_links::purpose.eq(Purpose::Invitation.as_str())))
        .filter(one_time_links::created_at.ge(Utc(since)))
        .select(one_time_links::created_at)
        .order((one_time_links::created_at, one_time_links::id))
        .load(read.conn())?;
    Ok(times.into_iter().map(|at| at.0).collect())
}

/// Makes every link that a member was mailed useless.
pub fn void_links(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    now: Timestamp,
) -> Result<(), StoreError> {
    let theirs =
        one_time_links::club_id.eq(Key(club.0)).and(one_time_links::member_id.eq(Key(member.0)));
    let open = theirs.and(one_time_links::used_at.is_null());
    diesel::update(one_time_links::table.filter(open))
        .set(one_time_links::used_at.eq(Some(Utc(now))))
        .execute(tx.conn())?;
    Ok(())
}

/// Takes from a member whatever lets them in.
pub fn end(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    now: Timestamp,
) -> Result<(), StoreError> {
    // First: an invitation that is being accepted holds its link, and leaves a password behind.
    void_links(tx, club, member, now)?;
    forget_password(tx, club, member)?;
    end_sign_ins(tx, club, member, None, now)?;
    let theirs =
        script_tokens::club_id.eq(Key(club.0)).and(script_tokens::member_id.eq(Key(member.0)));
    let open = theirs.and(script_tokens::revoked_at.is_null());
    diesel::update(script_tokens::table.filter(open))
        .set(script_tokens::revoked_at.eq(Some(Utc(now))))
        .execute(tx.conn())?;
    Ok(())
}
