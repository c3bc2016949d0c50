//! Clubs.

use diesel::prelude::*;
use domain::{
    clubs::{Club, Currency, Stages, mails_per_day, nudge_after},
    ids::ClubId,
    quiet_hours::QuietHours,
    text::Name,
    time::{Zone, parse_time_of_day},
};

use crate::{
    Read, StoreError, Tx, bow_days,
    dialect::{self, Hold},
    error::changed_once,
    schema::clubs,
    sql_types::{Key, Utc},
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = clubs, primary_key(club_id), treat_none_as_default_value = false, treat_none_as_null = true)]
struct ClubRow {
    club_id: Key,
    name: String,
    time_zone: String,
    digest_at: String,
    created_at: Utc,
    quiet_from: String,
    quiet_until: String,
    currency: String,
    bench_jobs_per_week: i32,
    stages_days: String,
    version: i32,
    mails_per_day: i32,
    nudge_after_days: Option<i32>,
}

impl ClubRow {
    fn of(club: &Club) -> Self {
        let days: Vec<String> = club.stages.days().iter().map(ToString::to_string).collect();
        Self {
            club_id: Key(club.id.0),
            name: club.name.to_string(),
            time_zone: club.zone.name().to_owned(),
            digest_at: time_text(club.digest_at),
            created_at: Utc(club.created_at),
            quiet_from: time_text(club.quiet.from),
            quiet_until: time_text(club.quiet.until),
            currency: club.currency.to_string(),
            bench_jobs_per_week: club.bench_jobs_per_week.cast_signed(),
            stages_days: days.join(","),
            version: club.version,
            mails_per_day: club.mails_per_day.cast_signed(),
            nudge_after_days: club.nudge_after_days.map(u32::cast_signed),
        }
    }
}

impl TryFrom<ClubRow> for Club {
    type Error = StoreError;

    fn try_from(row: ClubRow) -> Result<Self, StoreError> {
        let bad = |column, found: &str| StoreError::Inconsistent {
            table: "clubs",
            column,
            id: row.club_id.0,
            found: found.to_owned(),
        };
        let time = |column, text: &str| parse_time_of_day(text).map_err(|_bad| bad(column, text));
        let days = row.stages_days.split(',').map(str::parse).collect::<Result<Vec<i64>, _>>();
        let stages = days.ok().and_then(|days| Stages::new(&days).ok());
        let bench = &row.bench_jobs_per_week;
        Ok(Self {
            quiet: QuietHours {
                from: time("quiet_from", &row.quiet_from)?,
                until: time("quiet_until", &row.quiet_until)?,
            },
            currency: Currency::parse(&row.currency)
                .map_err(|_bad| bad("currency", &row.currency))?,
            bench_jobs_per_week: u32::try_from(*bench)
                .map_err(|_bad| bad("bench_jobs_per_week", &bench.to_string()))?,
            stages: stages.ok_or_else(|| bad("stages_days", &row.stages_days))?,
            mails_per_day: mails_per_day(row.mails_per_day.into())
                .map_err(|_bad| bad("mails_per_day", &row.mails_per_day.to_string()))?,
            nudge_after_days: row
                .nudge_after_days
                .map(|days| nudge_after(days.into()))
                .transpose()
                .map_err(|_bad| bad("nudge_after_days", "out of range"))?,
            version: row.version,
            id: ClubId(row.club_id.0),
            name: Name::parse(&row.name).map_err(|_bad| bad("name", &row.name))?,
            zone: Zone::parse(&row.time_zone).map_err(|_bad| bad("time_zone", &row.time_zone))?,
            digest_at: time("digest_at", &row.digest_at)?,
            created_at: row.created_at.0,
        })
    }
}

/// Adds a club.
pub fn add(tx: &mut Tx<'_>, club: &Club) -> Result<(), StoreError> {
    diesel::insert_into(clubs::table).values(ClubRow::of(club)).execute(tx.conn())?;
    Ok(())
}

/// Keeps a club's changed settings. `club.version` is the one that they were read with; the one that
/// is kept comes after it. A conflict, if somebody else changed them meanwhile.
pub fn change(tx: &mut Tx<'_>, club: &Club) -> Result<Club, StoreError> {
    let changed = Club { version: club.version + 1, ..club.clone() };
    let zone_before: Option<String> = clubs::table
        .find(Key(club.id.0))
        .select(clubs::time_zone)
        .get_result(tx.conn())
        .optional()?;
    let as_read = clubs::table.find(Key(club.id.0)).filter(clubs::version.eq(club.version));
    let kept = diesel::update(as_read).set(ClubRow::of(&changed)).execute(tx.conn())?;
    changed_once(kept)?;
    if zone_before.is_none_or(|before| before != changed.zone.name()) {
        dialect::hold(tx, club.id, Hold::Alone)?;
        bow_days::recount(tx, club.id)?;
    }
    Ok(changed)
}

/// Holds a club alone until the transaction ends: nobody else adds to its ledger or changes what hangs
/// where meanwhile, and whoever else holds it so waits and then sees what was done. It comes first in
/// a transaction, before anything is read that is to stay so.
pub fn hold_alone(tx: &mut Tx<'_>, club: ClubId) -> Result<(), StoreError> {
    dialect::hold(tx, club, Hold::Alone)
}

/// Where a club is.
pub(crate) fn zone(read: &mut Read<'_>, club: ClubId) -> Result<Zone, StoreError> {
    let name: Option<String> = clubs::table
        .find(Key(club.0))
        .select(clubs::time_zone)
        .get_result(read.conn())
        .optional()?;
    let name = name.ok_or(StoreError::NotFound { what: "club" })?;
    Zone::parse(&name).map_err(|_bad| StoreError::Inconsistent {
        table: "clubs",
        column: "time_zone",
        id: club.0,
        found: name,
    })
}

/// One club.
pub fn get(read: &mut Read<'_>, club: ClubId) -> Result<Club, StoreError> {
    clubs::table
        .find(Key(club.0))
        .select(ClubRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "club" })?
        .try_into()
}

/// A time of day as it is kept.
pub(crate) fn time_text(time: jiff::civil::Time) -> String {
    time.strftime("%H:%M").to_string()
}

/// Which clubs there are, oldest first.
pub fn ids(read: &mut Read<'_>) -> Result<Vec<ClubId>, StoreError> {
    let keys: Vec<Key> =
        clubs::table.select(clubs::club_id).order(clubs::club_id).load(read.conn())?;
    Ok(keys.into_iter().map(|key| ClubId(key.0)).collect())
}

/// Whether there is no club yet. In a transaction it stays so until the transaction ends.
pub fn none_yet(tx: &mut Tx<'_>) -> Result<bool, StoreError> {
    dialect::hold_clubs(tx)?;
    Ok(clubs::table.count().get_result::<i64>(tx.conn())? == 0)
}
