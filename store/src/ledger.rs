//! The ledger. Entries are appended; nothing here changes or removes one.

use diesel::prelude::*;
use domain::{
    ids::{BowId, ClubId, MemberId, PartId, ShotLogId},
    ledger::{LogKind, LogTime, ShotLog, Shots},
    text::Note,
};

use crate::{
    Page, Read, StoreError, Tx, bows,
    dialect::{self, Hold},
    fittings,
    schema::shot_logs,
    sql_types::{Key, Utc},
    wear,
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = shot_logs, treat_none_as_default_value = false)]
struct ShotLogRow {
    club_id: Key,
    id: Key,
    bow_id: Key,
    at: Utc,
    stated_at: Utc,
    date_only: bool,
    skew_s: Option<i64>,
    shots: i32,
    kind: String,
    note: String,
    entered_by_member_id: Key,
    received_at: Utc,
    corrects_id: Option<Key>,
    seq: i32,
    void: bool,
    counts: bool,
}

impl ShotLogRow {
    fn of(club: ClubId, log: &ShotLog) -> Self {
        Self {
            club_id: Key(club.0),
            id: Key(log.id.0),
            bow_id: Key(log.bow_id.0),
            at: Utc(log.time.at),
            stated_at: Utc(log.time.stated),
            date_only: log.time.date_only,
            skew_s: log.time.skew_s,
            shots: i32::from(log.shots.get()),
            kind: log.kind.as_str().to_owned(),
            note: log.note.as_str().to_owned(),
            entered_by_member_id: Key(log.entered_by.0),
            received_at: Utc(log.received_at),
            corrects_id: None,
            seq: 0,
            void: false,
            counts: true,
        }
    }
}

impl TryFrom<ShotLogRow> for ShotLog {
    type Error = StoreError;

    fn try_from(row: ShotLogRow) -> Result<Self, StoreError> {
        let bad = |column, found: String| StoreError::Inconsistent {
            table: "shot_logs",
            column,
            id: row.id.0,
            found,
        };
        Ok(Self {
            id: ShotLogId(row.id.0),
            bow_id: BowId(row.bow_id.0),
            time: LogTime {
                at: row.at.0,
                stated: row.stated_at.0,
                date_only: row.date_only,
                skew_s: row.skew_s,
            },
            shots: Shots::new(row.shots.into())
                .map_err(|_bad| bad("shots", row.shots.to_string()))?,
            kind: LogKind::parse(&row.kind).ok_or_else(|| bad("kind", row.kind.clone()))?,
            note: Note::parse(&row.note).map_err(|_bad| bad("note", row.note.clone()))?,
            entered_by: MemberId(row.entered_by_member_id.0),
            received_at: row.received_at.0,
        })
    }
}

/// What became of a log that was to be appended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Appended {
    /// It is new; its shots were counted.
    New,
    /// It was there already and says the same; nothing was counted.
    Again(ShotLog),
    /// Its id stands for another log; nothing was counted.
    IdTaken(ShotLog),
}

/// An entry and the parts it counts for, which are those under its bow at its time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// What became of it.
    pub appended: Appended,
    /// The parts under the bow at the time of the log, by id.
    pub parts: Vec<PartId>,
}

/// Appends a log and counts it for every part under its bow, once whatever happens. A transaction
/// that appends several does so by [`append_all`].
pub fn append(tx: &mut Tx<'_>, club: ClubId, log: &ShotLog) -> Result<Entry, StoreError> {
    dialect::hold(tx, club, Hold::Shared)?;
    bows::get(tx, club, log.bow_id)?;
    if !insert_if_absent(tx, ShotLogRow::of(club, log))? {
        let before = get(tx, club, log.id)?;
        let parts = fittings::under_bow(tx, club, before.bow_id, before.time.at)?;
        let appended = if before.says_the_same(log) {
            Appended::Again(before)
        } else {
            Appended::IdTaken(before)
        };
        return Ok(Entry { appended, parts });
    }
    let parts = fittings::under_bow(tx, club, log.bow_id, log.time.at)?;
    wear::advance(tx, club, &parts, log)?;
    Ok(Entry { appended: Appended::New, parts })
}

/// Appends logs in the order given. It holds the club alone: two such transactions that name the
/// same bows in opposite order would otherwise wait for each other's counts.
pub fn append_all(
    tx: &mut Tx<'_>,
    club: ClubId,
    logs: &[ShotLog],
) -> Result<Vec<Entry>, StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    logs.iter().map(|log| append(tx, club, log)).collect()
}

fn insert_if_absent(tx: &mut Tx<'_>, row: ShotLogRow) -> Result<bool, StoreError> {
    let added = dialect::on_each!(tx.conn(), c => {
        diesel::insert_into(shot_logs::table).values(row).on_conflict_do_nothing().execute(c)
    })?;
    Ok(added == 1)
}

/// One log.
pub fn get(read: &mut Read<'_>, club: ClubId, log: ShotLogId) -> Result<ShotLog, StoreError> {
    shot_logs::table
        .find((Key(club.0), Key(log.0)))
        .select(ShotLogRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "shot log" })?
        .try_into()
}

/// Logs of a club or of one bow, by id: as they were entered, where ids are of version 7.
pub fn list(
    read: &mut Read<'_>,
    club: ClubId,
    bow: Option<BowId>,
    page: Page,
) -> Result<Vec<ShotLog>, StoreError> {
    let mine = shot_logs::club_id.eq(Key(club.0)).and(shot_logs::id.gt(page.after_key()));
    let query = shot_logs::table.filter(mine).select(ShotLogRow::as_select()).order(shot_logs::id);
    let query = query.limit(page.limit.into());
    let rows = match bow {
        Some(bow) => query.filter(shot_logs::bow_id.eq(Key(bow.0))).load(read.conn()), // unordered: the order is set above
        None => query.load(read.conn()), // unordered: the order is set above
    };
    rows?.into_iter().map(ShotLog::try_from).collect()
}
