//! Taking mails out of the outbox to send them: which first, how fast, and that nobody else has them.

use diesel::prelude::*;
use domain::mail::{MailKind, MailState};
use jiff::{SignedDuration, Timestamp};

use super::{MailRow, Posted};
use crate::{StoreError, Tx, dialect, schema::outbox, sql_types::Utc};

/// How fast mails may be taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pace {
    /// So many by one claim.
    pub at_once: u32,
    /// So many in any 60 s, by all workers together.
    pub per_minute: u32,
}

/// What a claim came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Claimed {
    /// What is the claimer's now.
    pub mails: Vec<Posted>,
    /// How many more may be taken before the oldest of the last 60 s is older.
    pub left: u32,
}

/// How long a mail that was taken counts against [`Pace::per_minute`].
const MINUTE: SignedDuration = SignedDuration::from_mins(1);

/// Takes mails that are to be sent by `now`, or whose worker's lease is over, no faster than at that pace:
/// first those that say that a bow must not be shot, then the longest waiting. Each is `sending` for the
/// length of the lease; what is returned tells the attempt that this is, and the state that the mail was
/// found in.
pub fn claim(
    tx: &mut Tx<'_>,
    now: Timestamp,
    lease: SignedDuration,
    pace: Pace,
) -> Result<Claimed, StoreError> {
    dialect::hold_claims(tx)?;
    let left = pace.per_minute.saturating_sub(taken_lately(tx, now)?);
    let limit = pace.at_once.min(left);
    if limit == 0 {
        return Ok(Claimed { mails: Vec::new(), left });
    }
    let waiting = [MailState::Due, MailState::Retry, MailState::Uncertain].map(MailState::as_str);
    let abandoned = outbox::state
        .eq(MailState::Sending.as_str())
        .and(outbox::leased_until.le(Utc(now)).assume_not_null());
    let ready = outbox::state.eq_any(waiting).and(outbox::due_at.le(Utc(now)));
    // cross-club: one relay takes the mail of all clubs.
    let rows: Vec<MailRow> = outbox::table
        .filter(ready.or(abandoned))
        .select(MailRow::as_select())
        .order((outbox::kind.ne(MailKind::Stop.as_str()), outbox::due_at, outbox::id))
        .limit(limit.into())
        .load(tx.conn())?;
    let leased_until = now.saturating_add(lease).unwrap_or(now);
    let mut mails = Vec::with_capacity(rows.len());
    for row in rows {
        if take(tx, &row, now, leased_until)? {
            let row = MailRow { attempt: row.attempt + 1, tried_at: Some(Utc(now)), ..row };
            mails.push(row.try_into()?);
        }
    }
    let taken = u32::try_from(mails.len()).unwrap_or(u32::MAX);
    Ok(Claimed { mails, left: left.saturating_sub(taken) })
}

/// How many mails were taken in the last 60 s. One that a clock now set back took in the future is not
/// among them.
fn taken_lately(tx: &mut Tx<'_>, now: Timestamp) -> Result<u32, StoreError> {
    let since = now.saturating_sub(MINUTE).unwrap_or(now);
    let lately = outbox::tried_at.gt(Some(Utc(since))).and(outbox::tried_at.le(Some(Utc(now))));
    // cross-club: one relay takes the mail of all clubs.
    let taken: i64 =
        outbox::table.filter(lately.assume_not_null()).count().get_result(tx.conn())?;
    Ok(u32::try_from(taken).unwrap_or(u32::MAX))
}

/// Takes one row, unless another worker has done so since it was read.
fn take(
    tx: &mut Tx<'_>,
    row: &MailRow,
    now: Timestamp,
    leased_until: Timestamp,
) -> Result<bool, StoreError> {
    let as_read = outbox::state.eq(&row.state).and(outbox::attempt.eq(row.attempt));
    let taken = diesel::update(outbox::table.find((row.club_id, row.id)).filter(as_read))
        .set((
            outbox::state.eq(MailState::Sending.as_str()),
            outbox::attempt.eq(row.attempt + 1),
            outbox::tried_at.eq(Some(Utc(now))),
            outbox::leased_until.eq(Some(Utc(leased_until))),
        ))
        .execute(tx.conn())?;
    Ok(taken == 1)
}
