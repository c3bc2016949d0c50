//! Which kinds of mail somebody does not want. Knows nothing of who is told that they do not.

use std::collections::BTreeSet;

use diesel::prelude::*;
use domain::{
    ids::{ClubId, MemberId},
    mail::MailKind,
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx,
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

/// What was stopped before a change, and after it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// Before.
    pub before: BTreeSet<MailKind>,
    /// After.
    pub after: BTreeSet<MailKind>,
}

impl Change {
    /// Whether anything is new.
    #[must_use]
    pub fn is_any(&self) -> bool {
        self.before != self.after
    }

    /// The kinds that were stopped by it.
    pub fn stopped(&self) -> impl Iterator<Item = MailKind> {
        self.after.difference(&self.before).copied()
    }
}

/// Sets which kinds somebody does not want.
pub fn set(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    kinds: BTreeSet<MailKind>,
    now: Timestamp,
) -> Result<Change, StoreError> {
    change(tx, (club, member), now, |_before| kinds)
}

/// Stops one kind, whatever else was stopped.
pub fn add(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    kind: MailKind,
    now: Timestamp,
) -> Result<Change, StoreError> {
    change(tx, (club, member), now, |before| before.iter().copied().chain([kind]).collect())
}

/// Lets one kind come again, whatever else was stopped.
pub fn remove(
    tx: &mut Tx<'_>,
    club: ClubId,
    member: MemberId,
    kind: MailKind,
    now: Timestamp,
) -> Result<Change, StoreError> {
    let others =
        |before: &BTreeSet<MailKind>| before.iter().copied().filter(|one| *one != kind).collect();
    change(tx, (club, member), now, others)
}

/// What is stopped is read only once nobody else can change it: two who stop two kinds at once would undo
/// each other otherwise.
fn change(
    tx: &mut Tx<'_>,
    (club, member): (ClubId, MemberId),
    now: Timestamp,
    after: impl FnOnce(&BTreeSet<MailKind>) -> BTreeSet<MailKind>,
) -> Result<Change, StoreError> {
    hold(tx, club, member)?;
    let before = of_member(tx, club, member)?;
    let after = after(&before);
    for kind in before.difference(&after) {
        let row = stopped_mail::table.find((Key(club.0), Key(member.0), kind.as_str()));
        diesel::delete(row).execute(tx.conn())?;
    }
    for kind in after.difference(&before) {
        let row = (
            stopped_mail::club_id.eq(Key(club.0)),
            stopped_mail::member_id.eq(Key(member.0)),
            stopped_mail::kind.eq(kind.as_str()),
            stopped_mail::at.eq(Utc(now)),
        );
        diesel::insert_into(stopped_mail::table).values(row).execute(tx.conn())?;
    }
    Ok(Change { before, after })
}

/// Holds somebody's row until the transaction ends, so that two who change what they want at once do it
/// one after the other.
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
