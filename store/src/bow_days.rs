//! What each bow was shot on each local day of its club: derived from the ledger in the transaction that
//! changes it, so that a rate is read from days and not from every log.

use std::{collections::BTreeMap, fmt};

use diesel::{prelude::*, upsert::excluded};
use domain::{
    ids::{BowId, ClubId},
    ledger::ShotLog,
    time::Zone,
};
use jiff::civil::Date;

use crate::{
    Read, StoreError, Tx, clubs,
    dialect::on_each,
    schema::{bow_days, shot_logs},
    sql_types::{Day, Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = bow_days)]
struct BowDayRow {
    club_id: Key,
    bow_id: Key,
    on_date: Day,
    shots: i64,
    logs: i64,
}

/// Rows of one statement, well within what either database binds at once.
const ROWS_AT_ONCE: usize = 500;

/// Shots, and of how many logs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct DayCount {
    pub(crate) shots: i64,
    pub(crate) logs: i64,
}

impl fmt::Display for DayCount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} shots in {} logs", self.shots, self.logs)
    }
}

/// The counts of each day of each bow.
pub(crate) type Days = BTreeMap<(BowId, Date), DayCount>;

/// Adds to the days of bows, or takes from them where there are fewer than none. The rows are taken in
/// one order by all who do so at once.
pub(crate) fn shift(tx: &mut Tx<'_>, club: ClubId, days: Days) -> Result<(), StoreError> {
    let nothing = DayCount::default();
    for ((bow, on), count) in days.into_iter().filter(|(_, count)| *count != nothing) {
        let row = BowDayRow {
            club_id: Key(club.0),
            bow_id: Key(bow.0),
            on_date: Day(on),
            shots: count.shots,
            logs: count.logs,
        };
        on_each!(tx.conn(), c => {
            diesel::insert_into(bow_days::table)
                .values(row)
                .on_conflict((bow_days::club_id, bow_days::bow_id, bow_days::on_date))
                .do_update()
                .set((
                    bow_days::shots.eq(bow_days::shots + excluded(bow_days::shots)),
                    bow_days::logs.eq(bow_days::logs + excluded(bow_days::logs)),
                ))
                .execute(c)
        })?;
        if count.logs < 0 {
            let day = bow_days::table.find((Key(club.0), Key(bow.0), Day(on)));
            diesel::delete(day.filter(bow_days::logs.eq(0))).execute(tx.conn())?;
        }
    }
    Ok(())
}

/// Counts every day of a club anew: it is new to the program, or its zone changed.
pub(crate) fn recount(tx: &mut Tx<'_>, club: ClubId) -> Result<(), StoreError> {
    diesel::delete(bow_days::table.filter(bow_days::club_id.eq(Key(club.0)))).execute(tx.conn())?;
    let row = |((bow, on), count): ((BowId, Date), DayCount)| BowDayRow {
        club_id: Key(club.0),
        bow_id: Key(bow.0),
        on_date: Day(on),
        shots: count.shots,
        logs: count.logs,
    };
    let rows: Vec<BowDayRow> = counted(tx, club)?.into_iter().map(row).collect();
    for some in rows.chunks(ROWS_AT_ONCE) {
        on_each!(tx.conn(), c => {
            diesel::insert_into(bow_days::table).values(some).execute(c)
        })?;
    }
    Ok(())
}

/// Counts the days of the clubs for which nothing was counted yet: an earlier release did not.
pub(crate) fn complete(tx: &mut Tx<'_>) -> Result<(), StoreError> {
    for club in clubs::ids(tx)? {
        let of_club = bow_days::table.filter(bow_days::club_id.eq(Key(club.0)));
        if of_club.count().get_result::<i64>(tx.conn())? == 0 {
            recount(tx, club)?;
        }
    }
    Ok(())
}

/// The days of a club as the ledger has them.
pub(crate) fn counted(read: &mut Read<'_>, club: ClubId) -> Result<Days, StoreError> {
    let zone = clubs::zone(read, club)?;
    let logs: Vec<(Key, Utc, i32)> = shot_logs::table
        .filter(shot_logs::club_id.eq(Key(club.0)).and(shot_logs::counts.eq(true)))
        .select((shot_logs::bow_id, shot_logs::at, shot_logs::shots))
        .order((shot_logs::bow_id, shot_logs::at))
        .load(read.conn())?;
    let mut days = Days::new();
    for (bow, at, shots) in logs {
        let day = days.entry((BowId(bow.0), zone.date_of(at.0))).or_default();
        day.shots += i64::from(shots);
        day.logs += 1;
    }
    Ok(days)
}

/// The days of a club as they are kept.
pub(crate) fn kept(read: &mut Read<'_>, club: ClubId) -> Result<Days, StoreError> {
    let rows: Vec<BowDayRow> = bow_days::table
        .filter(bow_days::club_id.eq(Key(club.0)))
        .select(BowDayRow::as_select())
        .order((bow_days::bow_id, bow_days::on_date))
        .load(read.conn())?;
    let day = |row: BowDayRow| {
        let count = DayCount { shots: row.shots, logs: row.logs };
        ((BowId(row.bow_id.0), row.on_date.0), count)
    };
    Ok(rows.into_iter().map(day).collect())
}

/// What logs add to the days of their bows, and what logs that no longer say so take back.
pub(crate) fn of_logs(zone: &Zone, added: &[&ShotLog], taken_back: &[&ShotLog]) -> Days {
    let signed = added.iter().map(|log| (log, 1)).chain(taken_back.iter().map(|log| (log, -1)));
    let mut days = Days::new();
    for (log, sign) in signed {
        let day = days.entry((log.bow_id, zone.date_of(log.time.at))).or_default();
        day.shots += sign * i64::from(log.shots.get());
        day.logs += sign;
    }
    days
}
