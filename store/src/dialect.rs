//! The few things the two databases say differently.

use diesel::{prelude::*, sql_types::BigInt};
use domain::ids::{ClubId, PartId, ShotLogId};

use crate::{
    StoreError, Tx,
    conn::Conn,
    schema::{outbox, shot_logs, wear},
    sql_types::Key,
};

/// Runs one query text against whichever database is connected, where diesel cannot do it through
/// the common type.
macro_rules! on_each {
    ($conn:expr, $c:ident => $body:expr) => {
        match $conn {
            $crate::conn::Conn::Pg($c) => $body,
            $crate::conn::Conn::Sqlite($c) => $body,
        }
    };
}
pub(crate) use on_each;

/// How a transaction holds a club while it writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hold {
    /// Beside others who also only add to the ledger.
    Shared,
    /// Alone: what hangs where, and since when, is being changed.
    Alone,
}

/// Holds a club until the transaction ends, so that no log is counted by fittings that another
/// transaction is changing. SQLite has one writer at a time and needs nothing.
pub(crate) fn hold(tx: &mut Tx<'_>, club: ClubId, hold: Hold) -> Result<(), StoreError> {
    let Conn::Pg(pg) = tx.conn() else { return Ok(()) };
    // The low half of a UUID of version 7 is chance, so two clubs hardly ever share a lock; if
    // they do, they wait for each other and nothing worse.
    let low_half = club.0.as_u64_pair().1;
    let sql = match hold {
        Hold::Shared => "SELECT pg_advisory_xact_lock_shared($1)",
        Hold::Alone => "SELECT pg_advisory_xact_lock($1)",
    };
    diesel::sql_query(sql).bind::<BigInt, _>(low_half.cast_signed()).execute(pg)?;
    Ok(())
}

/// Holds a club's people and squads until the transaction ends, so that no two changes of them are
/// decided over the same state: two owners who leave at once, or one address for two people.
pub(crate) fn hold_people(tx: &mut Tx<'_>, club: ClubId) -> Result<(), StoreError> {
    const PEOPLE: i64 = 7_461_759;
    let Conn::Pg(pg) = tx.conn() else { return Ok(()) };
    let lock = club.0.as_u64_pair().1.cast_signed() ^ PEOPLE;
    diesel::sql_query("SELECT pg_advisory_xact_lock($1)").bind::<BigInt, _>(lock).execute(pg)?;
    Ok(())
}

/// Holds the list of clubs while the first one is made.
pub(crate) fn hold_clubs(tx: &mut Tx<'_>) -> Result<(), StoreError> {
    let Conn::Pg(pg) = tx.conn() else { return Ok(()) };
    diesel::sql_query("SELECT pg_advisory_xact_lock(7461758)").execute(pg)?;
    Ok(())
}

/// Holds the claiming of mail until the transaction ends, so that two workers who count what was claimed
/// in the last minute do not both fill the same gap.
pub(crate) fn hold_claims(tx: &mut Tx<'_>) -> Result<(), StoreError> {
    let Conn::Pg(pg) = tx.conn() else { return Ok(()) };
    diesel::sql_query("SELECT pg_advisory_xact_lock(7461760)").execute(pg)?;
    Ok(())
}

/// Holds a log, so that whoever corrects it too waits and then sees what became of it.
pub(crate) fn hold_log(tx: &mut Tx<'_>, club: ClubId, log: ShotLogId) -> Result<(), StoreError> {
    let Conn::Pg(pg) = tx.conn() else { return Ok(()) };
    shot_logs::table
        .find((Key(club.0), Key(log.0)))
        .select(shot_logs::seq)
        .order(shot_logs::id)
        .for_no_key_update()
        .load::<i32>(pg)?;
    Ok(())
}

/// Holds the clocks of these parts, one after the other in an order that is the same for all. An
/// UPDATE takes rows as they lie on the page, and each UPDATE moves them: two logs of one bow
/// would wait for each other's rows.
pub(crate) fn hold_clocks(
    tx: &mut Tx<'_>,
    club: ClubId,
    parts: &[PartId],
) -> Result<(), StoreError> {
    let Conn::Pg(pg) = tx.conn() else { return Ok(()) };
    let theirs = wear::part_id.eq_any(parts.iter().map(|part| Key(part.0)));
    wear::table
        .filter(wear::club_id.eq(Key(club.0)).and(theirs))
        .select(wear::clock)
        .order((wear::part_id, wear::clock))
        .for_no_key_update()
        .load::<String>(pg)?;
    Ok(())
}

/// Holds the mail of that key, so that no worker claims it before the transaction ends.
pub(crate) fn hold_mail(tx: &mut Tx<'_>, club: ClubId, key: &str) -> Result<(), StoreError> {
    let Conn::Pg(pg) = tx.conn() else { return Ok(()) };
    outbox::table
        .filter(outbox::club_id.eq(Key(club.0)).and(outbox::dedupe_key.eq(key)))
        .select(outbox::state)
        .order(outbox::id)
        .for_no_key_update()
        .load::<String>(pg)?;
    Ok(())
}
