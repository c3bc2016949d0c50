//! How many mails and reminders stand where, over all clubs, for whoever runs the server. Numbers
//! alone: nothing here is about a person or a club.

use std::collections::BTreeMap;

use diesel::{dsl::min, prelude::*};
use domain::{mail::MailState, reminders::ReminderState};
use jiff::Timestamp;

use crate::{
    Read, StoreError,
    schema::{outbox, reminders},
    sql_types::Utc,
};

/// Where the mails and reminders of all clubs stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    /// How many mails are in each state; every state is there.
    pub mails: BTreeMap<MailState, i64>,
    /// How many reminders are in each state; every state is there.
    pub reminders: BTreeMap<ReminderState, i64>,
    /// How many mails should be out by now and are not.
    pub waiting: i64,
    /// When the one of them should have gone that waits longest.
    pub oldest_wanted_at: Option<Timestamp>,
}

/// Counts them.
pub fn all(read: &mut Read<'_>, now: Timestamp) -> Result<Tally, StoreError> {
    // cross-club: whoever runs the server runs it for all clubs, and these are numbers alone.
    let mails: Vec<(String, i64)> = outbox::table
        .group_by(outbox::state)
        .select((outbox::state, diesel::dsl::count_star()))
        .order(outbox::state)
        .load(read.conn())?;
    // cross-club: as above.
    let reminders: Vec<(String, i64)> = reminders::table
        .group_by(reminders::state)
        .select((reminders::state, diesel::dsl::count_star()))
        .order(reminders::state)
        .load(read.conn())?;
    let waits = [MailState::Due, MailState::Retry, MailState::Uncertain, MailState::Sending];
    let overdue =
        outbox::state.eq_any(waits.map(MailState::as_str)).and(outbox::wanted_at.le(Utc(now)));
    // cross-club: as above.
    let (waiting, oldest): (i64, Option<Utc>) = outbox::table
        .filter(overdue)
        .select((diesel::dsl::count_star(), min(outbox::wanted_at)))
        .get_result(read.conn())?;
    let counted = |rows: &[(String, i64)], state: &str| {
        rows.iter().find(|(found, _)| found == state).map_or(0, |(_, count)| *count)
    };
    Ok(Tally {
        mails: MailState::ALL.iter().map(|one| (*one, counted(&mails, one.as_str()))).collect(),
        reminders: ReminderState::ALL
            .iter()
            .map(|one| (*one, counted(&reminders, one.as_str())))
            .collect(),
        waiting,
        oldest_wanted_at: oldest.map(|at| at.0),
    })
}
