//! The outbox: mail is written here in the transaction that found its reason, and sent from here.
//!
//! A worker claims a row, commits, talks to the relay, and then finishes the row. Finishing needs
//! the attempt that was claimed, so a worker that was away for longer than its lease cannot touch
//! a row that another has taken since.

mod claim;

use diesel::prelude::*;
use domain::{
    ids::{ClubId, LinkId, MailId, MemberId},
    mail::{Mail, MailKind, MailState},
};
use jiff::{Timestamp, civil::Date};

use crate::{
    Read, StoreError, Tx,
    dialect::{self, on_each},
    schema::outbox,
    sql_types::{Day, Key, Utc},
};

pub use claim::{Claimed, Pace, claim};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = outbox, treat_none_as_default_value = false)]
pub(crate) struct MailRow {
    club_id: Key,
    id: Key,
    kind: String,
    recipient_member_id: Key,
    for_date: Day,
    dedupe_key: String,
    state: String,
    due_at: Utc,
    attempt: i32,
    leased_until: Option<Utc>,
    outcome: Option<String>,
    created_at: Utc,
    finished_at: Option<Utc>,
    link_id: Option<Key>,
    wanted_at: Utc,
    tried_at: Option<Utc>,
}

impl TryFrom<MailRow> for Posted {
    type Error = StoreError;

    fn try_from(row: MailRow) -> Result<Self, StoreError> {
        let bad = |column, found: &str| StoreError::Inconsistent {
            table: "outbox",
            column,
            id: row.id.0,
            found: found.to_owned(),
        };
        let mail = Mail {
            id: MailId(row.id.0),
            kind: MailKind::parse(&row.kind).ok_or_else(|| bad("kind", &row.kind))?,
            recipient: MemberId(row.recipient_member_id.0),
            for_date: row.for_date.0,
            dedupe_key: row.dedupe_key,
            state: MailState::parse(&row.state).ok_or_else(|| bad("state", &row.state))?,
            wanted_at: row.wanted_at.0,
            due_at: row.due_at.0,
            attempt: row.attempt,
            link: row.link_id.map(|link| LinkId(link.0)),
        };
        Ok(Self {
            club: ClubId(row.club_id.0),
            mail,
            outcome: row.outcome,
            tried_at: row.tried_at.map(|at| at.0),
            finished_at: row.finished_at.map(|at| at.0),
        })
    }
}

/// A mail, its club, and what became of it so far.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Posted {
    /// Whose mail it is.
    pub club: ClubId,
    /// The mail.
    pub mail: Mail,
    /// The relay's answer, or the reason why it was not sent.
    pub outcome: Option<String>,
    /// When a worker last took it up to send it.
    pub tried_at: Option<Timestamp>,
    /// When it was sent, cancelled or given up.
    pub finished_at: Option<Timestamp>,
}

/// What became of an attempt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// The relay took it and answered so.
    Sent(String),
    /// Try again at that time.
    Retry(Timestamp, String),
    /// The relay may or may not have it; try again at that time.
    Uncertain(Timestamp, String),
    /// It is not worth sending any more.
    Cancelled(String),
    /// Nobody will ever take it.
    Dead(String),
}

/// Puts a mail into the outbox unless there is one with its key, and returns the one that is there
/// afterwards. Until the transaction ends nobody claims it: what is added to it will be carried.
pub fn post(
    tx: &mut Tx<'_>,
    club: ClubId,
    mail: &Mail,
    now: Timestamp,
) -> Result<Mail, StoreError> {
    let row = MailRow {
        club_id: Key(club.0),
        id: Key(mail.id.0),
        kind: mail.kind.as_str().to_owned(),
        recipient_member_id: Key(mail.recipient.0),
        for_date: Day(mail.for_date),
        dedupe_key: mail.dedupe_key.clone(),
        state: mail.state.as_str().to_owned(),
        due_at: Utc(mail.due_at),
        attempt: mail.attempt,
        leased_until: None,
        outcome: None,
        created_at: Utc(now),
        finished_at: None,
        link_id: mail.link.map(|link| Key(link.0)),
        wanted_at: Utc(mail.wanted_at),
        tried_at: None,
    };
    on_each!(tx.conn(), c => {
        diesel::insert_into(outbox::table).values(row).on_conflict_do_nothing().execute(c)
    })?;
    dialect::hold_mail(tx, club, &mail.dedupe_key)?;
    let there: MailRow = outbox::table
        .filter(outbox::club_id.eq(Key(club.0)).and(outbox::dedupe_key.eq(&mail.dedupe_key)))
        .select(MailRow::as_select())
        .get_result(tx.conn())?;
    Ok(Posted::try_from(there)?.mail)
}

/// Whether a claimed mail is still the claimer's: its lease may have run out while it was away.
pub fn still_claimed(read: &mut Read<'_>, posted: &Posted) -> Result<bool, StoreError> {
    let row: MailRow = outbox::table
        .find((Key(posted.club.0), Key(posted.mail.id.0)))
        .select(MailRow::as_select())
        .get_result(read.conn())?;
    Ok(row.state == MailState::Sending.as_str() && row.attempt == posted.mail.attempt)
}

/// Records what became of a claimed mail. `false` means that the lease was lost and another worker
/// has it: nothing was changed.
pub fn finish(
    tx: &mut Tx<'_>,
    posted: &Posted,
    outcome: &Outcome,
    now: Timestamp,
) -> Result<bool, StoreError> {
    let (state, words, again_at) = match outcome {
        Outcome::Sent(answer) => (MailState::Sent, answer, None),
        Outcome::Retry(at, why) => (MailState::Retry, why, Some(*at)),
        Outcome::Uncertain(at, why) => (MailState::Uncertain, why, Some(*at)),
        Outcome::Cancelled(why) => (MailState::Cancelled, why, None),
        Outcome::Dead(why) => (MailState::Dead, why, None),
    };
    let mine =
        outbox::state.eq(MailState::Sending.as_str()).and(outbox::attempt.eq(posted.mail.attempt));
    let row = outbox::table.find((Key(posted.club.0), Key(posted.mail.id.0))).filter(mine);
    let finished = diesel::update(row)
        .set((
            outbox::state.eq(state.as_str()),
            outbox::outcome.eq(Some(words)),
            outbox::leased_until.eq(None::<Utc>),
            outbox::due_at.eq(Utc(again_at.unwrap_or(posted.mail.due_at))),
            outbox::finished_at.eq(again_at.is_none().then_some(Utc(now))),
        ))
        .execute(tx.conn())?;
    Ok(finished == 1)
}

/// How many mails of their own somebody gets on a day of theirs: those that can wait, but for digests.
pub fn apart_on(
    read: &mut Read<'_>,
    club: ClubId,
    recipient: MemberId,
    on: Date,
) -> Result<i64, StoreError> {
    let apart =
        [MailKind::Event, MailKind::Squad, MailKind::Moved, MailKind::Bench, MailKind::Nudge];
    let theirs = outbox::club_id
        .eq(Key(club.0))
        .and(outbox::recipient_member_id.eq(Key(recipient.0)))
        .and(outbox::for_date.eq(Day(on)));
    Ok(outbox::table
        .filter(theirs.and(outbox::kind.eq_any(apart.map(MailKind::as_str))))
        .filter(outbox::state.ne(MailState::Cancelled.as_str()))
        .count()
        .get_result(read.conn())?)
}

/// Whether a digest to somebody went out between two moments.
pub fn digest_went_out(
    read: &mut Read<'_>,
    club: ClubId,
    recipient: MemberId,
    (from, until): (Timestamp, Timestamp),
) -> Result<bool, StoreError> {
    let theirs = outbox::club_id
        .eq(Key(club.0))
        .and(outbox::recipient_member_id.eq(Key(recipient.0)))
        .and(outbox::kind.eq(MailKind::Digest.as_str()));
    let then = outbox::finished_at
        .ge(Some(Utc(from)))
        .and(outbox::finished_at.lt(Some(Utc(until))))
        .assume_not_null();
    let sent: i64 = outbox::table
        .filter(theirs.and(outbox::state.eq(MailState::Sent.as_str())).and(then))
        .count()
        .get_result(read.conn())?;
    Ok(sent > 0)
}

/// Somebody's digest that no relay has taken yet and that is worded when it is sent, if there is one. It
/// is held until the transaction ends: nobody claims it before.
pub fn waiting_digest(
    tx: &mut Tx<'_>,
    club: ClubId,
    recipient: MemberId,
) -> Result<Option<Mail>, StoreError> {
    let waiting = [MailState::Due, MailState::Retry].map(MailState::as_str);
    let theirs = outbox::club_id
        .eq(Key(club.0))
        .and(outbox::recipient_member_id.eq(Key(recipient.0)))
        .and(outbox::kind.eq(MailKind::Digest.as_str()));
    let found = |tx: &mut Tx<'_>| -> Result<Option<MailRow>, StoreError> {
        Ok(outbox::table
            .filter(theirs.and(outbox::state.eq_any(waiting)))
            .select(MailRow::as_select())
            .order((outbox::due_at, outbox::id))
            .first(tx.conn())
            .optional()?)
    };
    let Some(row) = found(tx)? else { return Ok(None) };
    dialect::hold_mail(tx, club, &row.dedupe_key)?;
    // A worker may have claimed it while this waited.
    let held = found(tx)?.filter(|held| held.id == row.id);
    held.map(|row| Ok(Posted::try_from(row)?.mail)).transpose()
}

/// Every mail of a club, in the order they were written.
pub fn all(read: &mut Read<'_>, club: ClubId) -> Result<Vec<Posted>, StoreError> {
    outbox::table
        .filter(outbox::club_id.eq(Key(club.0)))
        .select(MailRow::as_select())
        .order(outbox::id)
        .load(read.conn())?
        .into_iter()
        .map(Posted::try_from)
        .collect()
}
