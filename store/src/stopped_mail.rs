//! Which kinds of mail somebody does not want. What a minor stops is told to their guardian, by a mail that
//! is written in the same transaction.

use std::collections::BTreeSet;

use diesel::prelude::*;
use domain::{
    clubs::Club,
    ids::{ClubId, MailId, MemberId},
    mail::{Mail, MailKind},
    members::{Addressees, Member},
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx, fresh_id, outbox,
    schema::{members, stopped_mail},
    sql_types::{Key, Utc},
};

fn parsed(member: Key, kind: &str) -> Result<MailKind, StoreError> {
    MailKind::parse(kind).ok_or_else(|| StoreError::Inconsistent {
        table: "stopped_mail",
        column: "kind",
        id: member.0,
        found: kind.to_owned(),
    })
}

/// Which kinds somebody stopped.
pub fn of_member(
    read: &mut Read<'_>,
    club: ClubId,
    member: MemberId,
) -> Result<BTreeSet<MailKind>, StoreError> {
    let theirs = stopped_mail::member_id.eq(Key(member.0));
    let kinds: Vec<String> = stopped_mail::table
        .filter(stopped_mail::club_id.eq(Key(club.0)).and(theirs))
        .select(stopped_mail::kind)
        .order(stopped_mail::kind)
        .load(read.conn())?;
    kinds.iter().map(|kind| parsed(Key(member.0), kind)).collect()
}

/// Who stopped which kinds.
pub fn of_club(
    read: &mut Read<'_>,
    club: ClubId,
) -> Result<BTreeSet<(MemberId, MailKind)>, StoreError> {
    let rows: Vec<(Key, String)> = stopped_mail::table
        .filter(stopped_mail::club_id.eq(Key(club.0)))
        .select((stopped_mail::member_id, stopped_mail::kind))
        .order((stopped_mail::member_id, stopped_mail::kind))
        .load(read.conn())?;
    rows.into_iter().map(|(id, kind)| Ok((MemberId(id.0), parsed(id, &kind)?))).collect()
}

/// Sets which kinds somebody does not want; says whether that is anything new. Who is a minor on that day
/// and has a guardian on record has them told of each kind that was stopped now.
pub fn set(
    tx: &mut Tx<'_>,
    club: &Club,
    member: &Member,
    kinds: &BTreeSet<MailKind>,
    now: Timestamp,
) -> Result<bool, StoreError> {
    hold(tx, club.id, member.id)?;
    let before = of_member(tx, club.id, member.id)?;
    for kind in before.difference(kinds) {
        let row = stopped_mail::table.find((Key(club.id.0), Key(member.id.0), kind.as_str()));
        diesel::delete(row).execute(tx.conn())?;
    }
    for &kind in kinds.difference(&before) {
        let row = (
            stopped_mail::club_id.eq(Key(club.id.0)),
            stopped_mail::member_id.eq(Key(member.id.0)),
            stopped_mail::kind.eq(kind.as_str()),
            stopped_mail::at.eq(Utc(now)),
        );
        diesel::insert_into(stopped_mail::table).values(row).execute(tx.conn())?;
        tell_guardian(tx, club, member, kind, now)?;
    }
    Ok(before != *kinds)
}

/// Holds somebody's row until the transaction ends, so that two who stop the same kind at once do it one
/// after the other.
fn hold(tx: &mut Tx<'_>, club: ClubId, member: MemberId) -> Result<(), StoreError> {
    let held = diesel::update(members::table.find((Key(club.0), Key(member.0))))
        .set(members::version.eq(members::version))
        .execute(tx.conn())?;
    if held == 1 { Ok(()) } else { Err(StoreError::NotFound { what: "member" }) }
}

/// Somebody was read in an earlier version: what they stopped has changed since.
pub fn newer_version(tx: &mut Tx<'_>, club: ClubId, member: MemberId) -> Result<(), StoreError> {
    let changed = diesel::update(members::table.find((Key(club.0), Key(member.0))))
        .set(members::version.eq(members::version + 1))
        .execute(tx.conn())?;
    if changed == 1 { Ok(()) } else { Err(StoreError::NotFound { what: "member" }) }
}

fn tell_guardian(
    tx: &mut Tx<'_>,
    club: &Club,
    member: &Member,
    kind: MailKind,
    now: Timestamp,
) -> Result<(), StoreError> {
    let today = club.zone.date_of(now);
    let told = member.addressees(today);
    if !matches!(told, Addressees::MemberAndGuardian(_) | Addressees::Guardian(_)) {
        return Ok(());
    }
    let (of, key) =
        (MailKind::Quieted, format!("{}|{}|{kind}|{now}", MailKind::Quieted, member.id));
    let mail = Mail::new(fresh_id::<MailId>(now), of, member.id, (now, today), key);
    outbox::post(tx, club.id, &mail, now).map(drop)
}
