//! Fittings: what hangs where, and since when. A change here changes what the ledger means, so
//! each one holds the club and counts the parts concerned anew.

mod put_right;

pub use put_right::{change, remove};

use std::collections::{BTreeMap, BTreeSet};

use diesel::{dsl::max, prelude::*};
use domain::{
    fittings::{self, Fitting, FittingError, Host, Surroundings},
    ids::{BowId, ClubId, FittingId, PartId},
    parts::{Part, PartKind},
};
use jiff::{Timestamp, civil::Date};

use crate::{
    Read, StoreError, Tx, bows, clubs,
    dialect::{self, Hold},
    error::changed_once,
    parts,
    schema::{fittings as table, parts as parts_table},
    sql_types::{Key, Utc},
    stops, wear,
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = table, treat_none_as_default_value = false)]
struct FittingRow {
    club_id: Key,
    id: Key,
    part_id: Key,
    bow_id: Option<Key>,
    host_part_id: Option<Key>,
    from_at: Utc,
    to_at: Option<Utc>,
    version: i32,
}

impl TryFrom<FittingRow> for Fitting {
    type Error = StoreError;

    fn try_from(row: FittingRow) -> Result<Self, StoreError> {
        let host = match (row.bow_id, row.host_part_id) {
            (Some(bow), None) => Host::Bow(BowId(bow.0)),
            (None, Some(part)) => Host::Part(PartId(part.0)),
            _ => {
                return Err(StoreError::Inconsistent {
                    table: "fittings",
                    column: "bow_id",
                    id: row.id.0,
                    found: "no host, or two".to_owned(),
                });
            }
        };
        Ok(Self {
            id: FittingId(row.id.0),
            part_id: PartId(row.part_id.0),
            host,
            from: row.from_at.0,
            to: row.to_at.map(|at| at.0),
            version: row.version,
        })
    }
}

/// Fits a part, if that contradicts nothing on record.
///
/// # Errors
/// A [`FittingError`] from the domain, a missing part or host, or the database.
pub fn fit<E>(tx: &mut Tx<'_>, club: ClubId, fitting: &Fitting) -> Result<(), E>
where
    E: From<StoreError> + From<FittingError>,
{
    add(tx, club, fitting, fittings::check)
}

/// Puts a stay on record that was on record elsewhere: the part, or what it was on, may have been
/// retired since.
///
/// # Errors
/// A [`FittingError`] from the domain, a missing part or host, or the database.
pub fn restore<E>(tx: &mut Tx<'_>, club: ClubId, fitting: &Fitting) -> Result<(), E>
where
    E: From<StoreError> + From<FittingError>,
{
    add(tx, club, fitting, fittings::check_moved)
}

/// What of a stay is checked against what is on record.
type Check = fn(&Fitting, Surroundings<'_>) -> Result<(), FittingError>;

fn add<E>(tx: &mut Tx<'_>, club: ClubId, fitting: &Fitting, check: Check) -> Result<(), E>
where
    E: From<StoreError> + From<FittingError>,
{
    dialect::hold(tx, club, Hold::Alone)?;
    let around = Around::of(tx, club, fitting)?;
    check(fitting, around.surroundings())?;
    let (bow_id, host_part_id) = match fitting.host {
        Host::Bow(bow) => (Some(Key(bow.0)), None),
        Host::Part(host) => (None, Some(Key(host.0))),
    };
    let row = FittingRow {
        club_id: Key(club.0),
        id: Key(fitting.id.0),
        part_id: Key(fitting.part_id.0),
        bow_id,
        host_part_id,
        from_at: Utc(fitting.from),
        to_at: fitting.to.map(Utc),
        version: fitting.version,
    };
    diesel::insert_into(table::table).values(row).execute(tx.conn()).map_err(StoreError::from)?;
    Ok(recount(tx, club, &around.part)?)
}

/// What there is around a fitting, on record.
struct Around {
    part: Part,
    host_part: Option<Part>,
    on: Date,
    of_part: Vec<Fitting>,
    same_kind_on_host: Vec<Fitting>,
}

impl Around {
    fn of(read: &mut Read<'_>, club: ClubId, fitting: &Fitting) -> Result<Self, StoreError> {
        let part = parts::get(read, club, fitting.part_id)?;
        let host_part = match fitting.host {
            Host::Bow(bow) => bows::get(read, club, bow).map(|_bow| None)?,
            Host::Part(host) => Some(parts::get(read, club, host)?),
        };
        Ok(Self {
            host_part,
            on: clubs::get(read, club)?.zone.date_of(fitting.from),
            of_part: of_part(read, club, part.id)?,
            same_kind_on_host: on_host(read, club, fitting.host, part.kind)?,
            part,
        })
    }

    fn surroundings(&self) -> Surroundings<'_> {
        Surroundings {
            part: &self.part,
            host_part: self.host_part.as_ref(),
            on: self.on,
            of_part: &self.of_part,
            same_kind_on_host: &self.same_kind_on_host,
        }
    }
}

/// Keeps the times of a fitting, which makes another version of it.
fn put(tx: &mut Tx<'_>, club: ClubId, fitting: &Fitting) -> Result<Fitting, StoreError> {
    let version = fitting.version + 1;
    let row = table::table.find((Key(club.0), Key(fitting.id.0)));
    let rows = diesel::update(row.filter(table::version.eq(fitting.version)))
        .set((
            table::from_at.eq(Utc(fitting.from)),
            table::to_at.eq(fitting.to.map(Utc)),
            table::version.eq(version),
        ))
        .execute(tx.conn())?;
    changed_once(rows)?;
    Ok(Fitting { version, ..*fitting })
}

/// Ends a fitting.
///
/// # Errors
/// A [`FittingError`] from the domain, no such fitting, or the database.
pub fn take_off<E>(
    tx: &mut Tx<'_>,
    club: ClubId,
    fitting: FittingId,
    at: Timestamp,
) -> Result<Fitting, E>
where
    E: From<StoreError> + From<FittingError>,
{
    dialect::hold(tx, club, Hold::Alone)?;
    let ended = get(tx, club, fitting)?.take_off(at)?;
    let ended = put(tx, club, &ended)?;
    let part = parts::get(tx, club, ended.part_id)?;
    recount(tx, club, &part)?;
    Ok(ended)
}

/// Ends whatever fitting of a part goes on at `at`, if there is one.
///
/// # Errors
/// A [`FittingError`] from the domain, or the database.
pub(crate) fn take_off_part<E>(
    tx: &mut Tx<'_>,
    club: ClubId,
    part: PartId,
    at: Timestamp,
) -> Result<Option<Fitting>, E>
where
    E: From<StoreError> + From<FittingError>,
{
    let open = of_part(tx, club, part)?.into_iter().find(|fitting| fitting.to.is_none());
    open.map(|fitting| take_off(tx, club, fitting.id, at)).transpose()
}

/// Derives anew what a part whose fittings changed, and all that rides on it, was shot and whether it
/// must not be.
fn recount(tx: &mut Tx<'_>, club: ClubId, part: &Part) -> Result<(), StoreError> {
    wear::recount(tx, club, part)?;
    let mut concerned = riders(tx, club, part.id)?;
    for rider in &concerned {
        let rider = parts::get(tx, club, *rider)?;
        wear::recount(tx, club, &rider)?;
    }
    concerned.push(part.id);
    stops::reckon(tx, club, &concerned)
}

/// The parts that were ever fitted to a part.
fn riders(read: &mut Read<'_>, club: ClubId, host: PartId) -> Result<Vec<PartId>, StoreError> {
    let keys: Vec<Key> = table::table
        .filter(table::club_id.eq(Key(club.0)).and(table::host_part_id.eq(Key(host.0))))
        .select(table::part_id)
        .distinct()
        .order(table::part_id)
        .load(read.conn())?;
    Ok(keys.into_iter().map(|key| PartId(key.0)).collect())
}

/// When a part was last fitted to this one.
pub(crate) fn last_to(
    read: &mut Read<'_>,
    club: ClubId,
    host: PartId,
) -> Result<Option<Timestamp>, StoreError> {
    let on_it = table::host_part_id.eq(Key(host.0)).assume_not_null();
    let last: Option<Utc> = table::table
        .filter(table::club_id.eq(Key(club.0)).and(on_it))
        .select(max(table::from_at))
        .get_result(read.conn())?;
    Ok(last.map(|at| at.0))
}

/// One fitting.
pub fn get(read: &mut Read<'_>, club: ClubId, fitting: FittingId) -> Result<Fitting, StoreError> {
    table::table
        .find((Key(club.0), Key(fitting.0)))
        .select(FittingRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "fitting" })?
        .try_into()
}

/// Every fitting of a part, oldest first.
pub fn of_part(
    read: &mut Read<'_>,
    club: ClubId,
    part: PartId,
) -> Result<Vec<Fitting>, StoreError> {
    table::table
        .filter(table::club_id.eq(Key(club.0)).and(table::part_id.eq(Key(part.0))))
        .select(FittingRow::as_select())
        .order((table::from_at, table::id))
        .load(read.conn())?
        .into_iter()
        .map(Fitting::try_from)
        .collect()
}

/// The fittings of every part that these name as a host.
pub(crate) fn of_hosts(
    read: &mut Read<'_>,
    club: ClubId,
    fittings: &[Fitting],
) -> Result<BTreeMap<PartId, Vec<Fitting>>, StoreError> {
    let hosts = fittings.iter().filter_map(|fitting| match fitting.host {
        Host::Part(host) => Some(host),
        Host::Bow(_) => None,
    });
    let hosts: BTreeSet<PartId> = hosts.collect();
    of_parts(read, club, &hosts.into_iter().collect::<Vec<_>>())
}

/// Every fitting to a bow itself, oldest first; not of what rides on those parts.
pub fn of_bow(read: &mut Read<'_>, club: ClubId, bow: BowId) -> Result<Vec<Fitting>, StoreError> {
    table::table
        .filter(table::club_id.eq(Key(club.0)))
        .filter(table::bow_id.eq(Key(bow.0)).assume_not_null())
        .select(FittingRow::as_select())
        .order((table::from_at, table::id))
        .load(read.conn())?
        .into_iter()
        .map(Fitting::try_from)
        .collect()
}

/// Every fitting of a kind of part to a host, oldest first.
pub(crate) fn on_host(
    read: &mut Read<'_>,
    club: ClubId,
    host: Host,
    kind: PartKind,
) -> Result<Vec<Fitting>, StoreError> {
    let (bow, part) = match host {
        Host::Bow(bow) => (Some(Key(bow.0)), None),
        Host::Part(part) => (None, Some(Key(part.0))),
    };
    let on_it = table::bow_id.eq(bow).or(table::host_part_id.eq(part));
    table::table
        .inner_join(
            parts_table::table.on(parts_table::club_id
                .eq(table::club_id)
                .and(parts_table::id.eq(table::part_id))),
        )
        .filter(table::club_id.eq(Key(club.0)).and(on_it.assume_not_null()))
        .filter(parts_table::kind.eq(kind.as_str()))
        .select(FittingRow::as_select())
        .order((table::from_at, table::id))
        .load(read.conn())?
        .into_iter()
        .map(Fitting::try_from)
        .collect()
}

/// What was under a bow at a moment: the parts fitted to it, and those fitted to them.
pub fn under_bow(
    read: &mut Read<'_>,
    club: ClubId,
    bow: BowId,
    at: Timestamp,
) -> Result<Vec<PartId>, StoreError> {
    let hosts = diesel::alias!(table as hosts);
    let covers = table::from_at
        .le(Utc(at))
        .and(table::to_at.is_null().or(table::to_at.gt(Utc(at))).assume_not_null());
    let mine = table::club_id.eq(Key(club.0));
    let direct: Vec<Key> = table::table
        .filter(mine.and(table::bow_id.eq(Key(bow.0)).assume_not_null()).and(covers))
        .select(table::part_id)
        .order(table::part_id)
        .load(read.conn())?;
    let riding: Vec<Key> =
        table::table
            .inner_join(hosts.on(hosts.field(table::club_id).eq(table::club_id).and(
                hosts.field(table::part_id).nullable().eq(table::host_part_id).assume_not_null(),
            )))
            .filter(mine.and(covers))
            .filter(hosts.field(table::bow_id).eq(Key(bow.0)).assume_not_null())
            .filter(hosts.field(table::from_at).le(Utc(at)))
            .filter(
                hosts
                    .field(table::to_at)
                    .is_null()
                    .or(hosts.field(table::to_at).gt(Utc(at)))
                    .assume_not_null(),
            )
            .select(table::part_id)
            .order(table::part_id)
            .load(read.conn())?;
    let mut parts: Vec<PartId> = direct.into_iter().chain(riding).map(|k| PartId(k.0)).collect();
    parts.sort_unstable();
    Ok(parts)
}

/// Whether anything was fitted under a bow or taken off within a span, from its beginning until
/// just before its end. What rides on a part that was ever on the bow counts too.
pub fn changed_under_bow(
    read: &mut Read<'_>,
    club: ClubId,
    bow: BowId,
    from: Timestamp,
    to: Timestamp,
) -> Result<bool, StoreError> {
    let hosts = diesel::alias!(table as hosts);
    let (from, to) = (Utc(from), Utc(to));
    let fitted = table::from_at.ge(from).and(table::from_at.lt(to));
    let taken_off = table::to_at.ge(from).and(table::to_at.lt(to)).assume_not_null();
    let changed = table::club_id.eq(Key(club.0)).and(fitted.or(taken_off));
    let direct: Vec<Key> = table::table
        .filter(changed.and(table::bow_id.eq(Key(bow.0)).assume_not_null()))
        .select(table::id)
        .order(table::id)
        .load(read.conn())?;
    if !direct.is_empty() {
        return Ok(true);
    }
    let riding: Vec<Key> =
        table::table
            .inner_join(hosts.on(hosts.field(table::club_id).eq(table::club_id).and(
                hosts.field(table::part_id).nullable().eq(table::host_part_id).assume_not_null(),
            )))
            .filter(changed)
            .filter(hosts.field(table::bow_id).eq(Key(bow.0)).assume_not_null())
            .select(table::id)
            .order(table::id)
            .load(read.conn())?;
    Ok(!riding.is_empty())
}

/// Every fitting of a club by part, oldest first.
pub fn of_club(
    read: &mut Read<'_>,
    club: ClubId,
) -> Result<BTreeMap<PartId, Vec<Fitting>>, StoreError> {
    let rows = table::table
        .filter(table::club_id.eq(Key(club.0)))
        .select(FittingRow::as_select())
        .order((table::part_id, table::from_at, table::id))
        .load(read.conn())?;
    by_part(rows)
}

/// Every fitting of these parts by part, oldest first.
pub(crate) fn of_parts(
    read: &mut Read<'_>,
    club: ClubId,
    parts: &[PartId],
) -> Result<BTreeMap<PartId, Vec<Fitting>>, StoreError> {
    if parts.is_empty() {
        return Ok(BTreeMap::new());
    }
    let theirs = table::part_id.eq_any(parts.iter().map(|part| Key(part.0)));
    let rows = table::table
        .filter(table::club_id.eq(Key(club.0)).and(theirs))
        .select(FittingRow::as_select())
        .order((table::part_id, table::from_at, table::id))
        .load(read.conn())?;
    by_part(rows)
}

fn by_part(rows: Vec<FittingRow>) -> Result<BTreeMap<PartId, Vec<Fitting>>, StoreError> {
    let mut found: BTreeMap<PartId, Vec<Fitting>> = BTreeMap::new();
    for row in rows {
        found.entry(PartId(row.part_id.0)).or_default().push(row.try_into()?);
    }
    Ok(found)
}

/// When the center serving that is on a string at a moment was fitted, by string; of all strings of
/// the club, or of some.
pub(crate) fn served_at(
    read: &mut Read<'_>,
    club: ClubId,
    strings: Option<&[PartId]>,
    at: Timestamp,
) -> Result<BTreeMap<PartId, Timestamp>, StoreError> {
    let serving = parts_table::club_id.eq(table::club_id).and(parts_table::id.eq(table::part_id));
    let query = table::table
        .inner_join(parts_table::table.on(serving))
        .filter(table::club_id.eq(Key(club.0)).and(table::from_at.le(Utc(at))))
        .filter(table::to_at.is_null().or(table::to_at.gt(Utc(at))).assume_not_null())
        .filter(parts_table::kind.eq(PartKind::CenterServing.as_str()))
        .select((table::host_part_id, table::from_at))
        .order((table::host_part_id, table::from_at));
    let rows: Vec<(Option<Key>, Utc)> = match strings {
        Some(strings) => {
            let on_them = table::host_part_id.eq_any(strings.iter().map(|part| Some(Key(part.0))));
            query.filter(on_them.assume_not_null()).load(read.conn())? // unordered: the order is set above
        }
        None => query.load(read.conn())?, // unordered: the order is set above
    };
    Ok(rows.into_iter().filter_map(|(host, at)| Some((PartId(host?.0), at.0))).collect())
}
