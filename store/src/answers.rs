//! What somebody answered to reminders: that the work is done, that they want to hear of it later, or that
//! the bow is not theirs. The work itself, and whose the bow is, is on record elsewhere.

use std::collections::BTreeSet;

use diesel::prelude::*;
use domain::{
    ids::{BowId, ClubId, MemberId, ReminderId},
    reminders::{Reminder, ReminderState},
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx,
    dialect::{self, Hold},
    reminders::{self as reminder, Listed},
    schema::reminders,
    sql_types::{Key, Utc},
};

/// The states in which a reminder can still be answered, or answered otherwise.
const OPEN: [&str; 3] =
    [ReminderState::Raised.as_str(), ReminderState::Sent.as_str(), ReminderState::Snoozed.as_str()];

/// A reminder that is about to be answered, with its club held: of two answers at once the second sees
/// the first.
pub fn get_to_answer(
    tx: &mut Tx<'_>,
    club: ClubId,
    reminder: ReminderId,
) -> Result<Listed, StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    reminder::get(tx, club, reminder)
}

/// The work of a reminder from [`get_to_answer`] was done.
pub fn done(
    tx: &mut Tx<'_>,
    club: ClubId,
    reminder: ReminderId,
    at: Timestamp,
) -> Result<(), StoreError> {
    set(tx, club, &[Key(reminder.0)], (ReminderState::Done, at, None))
}

/// Its recipient hears no more of the same thing until a moment, however urgent it becomes.
pub fn snooze(
    tx: &mut Tx<'_>,
    club: ClubId,
    of: &Reminder,
    at: Timestamp,
    until: Timestamp,
) -> Result<(), StoreError> {
    let to = reminders::recipient_member_id.eq(Key(of.recipient.0));
    let rows: Vec<(Key, String)> = reminders::table
        .filter(reminders::club_id.eq(Key(club.0)).and(to))
        .filter(reminders::cycle.eq(&of.cycle).and(reminders::state.eq_any(OPEN)))
        .select((reminders::id, reminders::dedupe_key))
        .order(reminders::id)
        .load(tx.conn())?;
    let same = |key: &str| key.starts_with(of.whatever_its_stage());
    let same: Vec<Key> = rows.into_iter().filter(|(_, key)| same(key)).map(|(id, _)| id).collect();
    set(tx, club, &same, (ReminderState::Snoozed, at, Some(until)))
}

/// A bow is not its recipient's to look after: nothing that they were told of it stays open, but that it
/// must not be shot.
pub fn disown(
    tx: &mut Tx<'_>,
    club: ClubId,
    bow: BowId,
    member: MemberId,
    at: Timestamp,
) -> Result<(), StoreError> {
    let to = reminders::recipient_member_id.eq(Key(member.0));
    let of_bow = reminders::bow_id.eq(Some(Key(bow.0))).assume_not_null();
    let answerable = reminders::kind.eq_any(["maintenance", "silence"]);
    let rows: Vec<Key> = reminders::table
        .filter(reminders::club_id.eq(Key(club.0)).and(to).and(of_bow))
        .filter(answerable.and(reminders::state.eq_any(OPEN)))
        .select(reminders::id)
        .order(reminders::id)
        .load(tx.conn())?;
    set(tx, club, &rows, (ReminderState::Disowned, at, None))
}

fn set(
    tx: &mut Tx<'_>,
    club: ClubId,
    ids: &[Key],
    (state, at, until): (ReminderState, Timestamp, Option<Timestamp>),
) -> Result<(), StoreError> {
    let these = reminders::club_id.eq(Key(club.0)).and(reminders::id.eq_any(ids));
    let answered = diesel::update(reminders::table.filter(these))
        .set((
            reminders::state.eq(state.as_str()),
            reminders::answered_at.eq(Some(Utc(at))),
            reminders::snoozed_until.eq(until.map(Utc)),
        ))
        .execute(tx.conn())?;
    if answered == ids.len() { Ok(()) } else { Err(StoreError::NotFound { what: "reminder" }) }
}

/// What is put off at a moment, each by what its reminders have in common whatever their stage.
pub fn snoozed(
    read: &mut Read<'_>,
    club: ClubId,
    now: Timestamp,
) -> Result<BTreeSet<String>, StoreError> {
    let until = reminders::snoozed_until.gt(Utc(now)).assume_not_null();
    let rows: Vec<(String, String)> = reminders::table
        .filter(reminders::club_id.eq(Key(club.0)).and(until))
        .filter(reminders::state.eq(ReminderState::Snoozed.as_str()))
        .select((reminders::dedupe_key, reminders::stage))
        .order(reminders::id)
        .load(read.conn())?;
    let common = |(key, stage): (String, String)| key.strip_suffix(&stage).map(str::to_owned);
    Ok(rows.into_iter().filter_map(common).collect())
}
