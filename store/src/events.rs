//! Events, the days blocked for them, and who goes with which bow.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use domain::{
    events::{Entry, Event, EventDates, Priority, arrows_expected},
    ids::{BowId, ClubId, EventId, MemberId, PartId},
    text::Name,
};
use jiff::civil::Date;

use crate::{
    Page, Read, StoreError, Tx,
    error::changed_once,
    schema::{blocked_days, entries, events},
    sql_types::{Day, Key, Utc},
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(
    table_name = events,
    primary_key(club_id, id),
    treat_none_as_default_value = false,
    treat_none_as_null = true
)]
struct EventRow {
    club_id: Key,
    id: Key,
    name: String,
    starts_on: Day,
    ends_on: Day,
    priority: String,
    arrows_expected: i32,
    version: i32,
    cancelled_at: Option<Utc>,
    created_by_member_id: Key,
    created_at: Utc,
    changed_at: Utc,
}

impl EventRow {
    fn of(club: ClubId, event: &Event) -> Self {
        Self {
            club_id: Key(club.0),
            id: Key(event.id.0),
            name: event.name.to_string(),
            starts_on: Day(event.dates.starts_on()),
            ends_on: Day(event.dates.ends_on()),
            priority: event.priority.as_str().to_owned(),
            arrows_expected: event.arrows_expected.into(),
            version: event.version,
            cancelled_at: event.cancelled_at.map(Utc),
            created_by_member_id: Key(event.created_by.0),
            created_at: Utc(event.created_at),
            changed_at: Utc(event.changed_at),
        }
    }

    fn event(self, blocked_days: BTreeSet<Date>) -> Result<Event, StoreError> {
        let bad = |column, found: &dyn ToString| StoreError::Inconsistent {
            table: "events",
            column,
            id: self.id.0,
            found: found.to_string(),
        };
        Ok(Event {
            id: EventId(self.id.0),
            name: Name::parse(&self.name).map_err(|_bad| bad("name", &self.name))?,
            dates: EventDates::new(self.starts_on.0, self.ends_on.0)
                .map_err(|_bad| bad("ends_on", &self.ends_on.0))?,
            priority: Priority::parse(&self.priority)
                .ok_or_else(|| bad("priority", &self.priority))?,
            arrows_expected: arrows_expected(self.arrows_expected.into())
                .map_err(|_bad| bad("arrows_expected", &self.arrows_expected))?,
            blocked_days,
            version: self.version,
            cancelled_at: self.cancelled_at.map(|at| at.0),
            created_by: MemberId(self.created_by_member_id.0),
            created_at: self.created_at.0,
            changed_at: self.changed_at.0,
        })
    }
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = blocked_days)]
struct BlockedDayRow {
    club_id: Key,
    event_id: Key,
    on_date: Day,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = entries, treat_none_as_default_value = false)]
#[expect(clippy::struct_field_names, reason = "the table's columns, all of which are ids")]
struct EntryRow {
    club_id: Key,
    event_id: Key,
    member_id: Key,
    bow_id: Key,
    spare_part_id: Option<Key>,
}

impl From<EntryRow> for Entry {
    fn from(row: EntryRow) -> Self {
        Self {
            member: MemberId(row.member_id.0),
            bow: BowId(row.bow_id.0),
            spare: row.spare_part_id.map(|part| PartId(part.0)),
        }
    }
}

/// Which events of a club.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Which {
    /// Only those that end on this day or after.
    pub from: Option<Date>,
    /// Those that were called off too.
    pub called_off: bool,
}

/// Adds an event without entries. Who entered it must be a member of the club.
pub fn add(tx: &mut Tx<'_>, club: ClubId, event: &Event) -> Result<(), StoreError> {
    diesel::insert_into(events::table).values(EventRow::of(club, event)).execute(tx.conn())?;
    block(tx, club, event)
}

fn block(tx: &mut Tx<'_>, club: ClubId, event: &Event) -> Result<(), StoreError> {
    let row = |day: &Date| BlockedDayRow {
        club_id: Key(club.0),
        event_id: Key(event.id.0),
        on_date: Day(*day),
    };
    for row in event.blocked_days.iter().map(row) {
        diesel::insert_into(blocked_days::table).values(row).execute(tx.conn())?;
    }
    Ok(())
}

/// Keeps a changed event. `event.version` is the one that it was read with; the one that is kept comes
/// after it. A conflict, if somebody else changed it meanwhile.
pub fn change(tx: &mut Tx<'_>, club: ClubId, event: &Event) -> Result<Event, StoreError> {
    let changed = next_version(tx, club, event)?;
    let theirs = blocked_days::event_id.eq(Key(event.id.0));
    diesel::delete(blocked_days::table.filter(blocked_days::club_id.eq(Key(club.0)).and(theirs)))
        .execute(tx.conn())?;
    block(tx, club, &changed)?;
    Ok(changed)
}

/// Puts these entries in the place of all that the event has, which counts as a change of it.
pub fn set_entries(
    tx: &mut Tx<'_>,
    club: ClubId,
    event: &Event,
    going: &[Entry],
) -> Result<Event, StoreError> {
    let changed = next_version(tx, club, event)?;
    let theirs = entries::event_id.eq(Key(event.id.0));
    diesel::delete(entries::table.filter(entries::club_id.eq(Key(club.0)).and(theirs)))
        .execute(tx.conn())?;
    for entry in going {
        let row = EntryRow {
            club_id: Key(club.0),
            event_id: Key(event.id.0),
            member_id: Key(entry.member.0),
            bow_id: Key(entry.bow.0),
            spare_part_id: entry.spare.map(|part| Key(part.0)),
        };
        diesel::insert_into(entries::table).values(row).execute(tx.conn())?;
    }
    Ok(changed)
}

fn next_version(tx: &mut Tx<'_>, club: ClubId, event: &Event) -> Result<Event, StoreError> {
    let changed = Event { version: event.version + 1, ..event.clone() };
    let as_read = events::table
        .find((Key(club.0), Key(event.id.0)))
        .filter(events::version.eq(event.version));
    let kept = diesel::update(as_read).set(EventRow::of(club, &changed)).execute(tx.conn())?;
    changed_once(kept).map(|()| changed)
}

/// One event, also if it was called off.
pub fn get(read: &mut Read<'_>, club: ClubId, event: EventId) -> Result<Event, StoreError> {
    let row: EventRow = events::table
        .find((Key(club.0), Key(event.0)))
        .select(EventRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "event" })?;
    let found = with_blocked_days(read, club, vec![row])?;
    found.into_iter().next().ok_or(StoreError::NotFound { what: "event" })
}

/// Events of a club, in the order they were entered.
pub fn list(
    read: &mut Read<'_>,
    club: ClubId,
    which: Which,
    page: Page,
) -> Result<Vec<Event>, StoreError> {
    // No event ends before the first day that a date can be.
    let from = Day(which.from.unwrap_or(FIRST_DAY));
    let mine = events::club_id.eq(Key(club.0)).and(events::id.gt(page.after_key()));
    let query = events::table
        .filter(mine.and(events::ends_on.ge(from)))
        .select(EventRow::as_select())
        .order(events::id)
        .limit(page.limit.into());
    let rows = if which.called_off {
        query.load(read.conn())? // unordered: the order is set above
    } else {
        query.filter(events::cancelled_at.is_null()).load(read.conn())? // unordered: the order is set above
    };
    with_blocked_days(read, club, rows)
}

const FIRST_DAY: Date = Date::constant(1970, 1, 1);

/// The entries of an event, by member and bow.
pub fn entries_of(
    read: &mut Read<'_>,
    club: ClubId,
    event: EventId,
) -> Result<Vec<Entry>, StoreError> {
    let rows: Vec<EntryRow> = entries::table
        .filter(entries::club_id.eq(Key(club.0)).and(entries::event_id.eq(Key(event.0))))
        .select(EntryRow::as_select())
        .order((entries::member_id, entries::bow_id))
        .load(read.conn())?;
    Ok(rows.into_iter().map(Entry::from).collect())
}

/// The events that are still to come or under way, with their entries, the first to begin first. In a
/// constant number of statements.
pub fn ahead(
    read: &mut Read<'_>,
    club: ClubId,
    today: Date,
) -> Result<Vec<(Event, Vec<Entry>)>, StoreError> {
    let mut found = ending_from(read, club, today)?;
    found.retain(|(event, _)| event.cancelled_at.is_none());
    Ok(found)
}

/// The events that end on a day or after, also those that were called off, with their entries, the first
/// to begin first. In a constant number of statements.
pub fn ending_from(
    read: &mut Read<'_>,
    club: ClubId,
    day: Date,
) -> Result<Vec<(Event, Vec<Entry>)>, StoreError> {
    let rows: Vec<EventRow> = events::table
        .filter(events::club_id.eq(Key(club.0)).and(events::ends_on.ge(Day(day))))
        .select(EventRow::as_select())
        .order((events::starts_on, events::id))
        .load(read.conn())?;
    let found = with_blocked_days(read, club, rows)?;
    let mut going = entries_by_event(read, club, &found)?;
    let with_entries = |event: Event| {
        let entries = going.remove(&event.id).unwrap_or_default();
        (event, entries)
    };
    Ok(found.into_iter().map(with_entries).collect())
}

fn entries_by_event(
    read: &mut Read<'_>,
    club: ClubId,
    of: &[Event],
) -> Result<BTreeMap<EventId, Vec<Entry>>, StoreError> {
    let theirs = entries::event_id.eq_any(of.iter().map(|event| Key(event.id.0)));
    let rows: Vec<EntryRow> = entries::table
        .filter(entries::club_id.eq(Key(club.0)).and(theirs))
        .select(EntryRow::as_select())
        .order((entries::event_id, entries::member_id, entries::bow_id))
        .load(read.conn())?;
    let mut found: BTreeMap<EventId, Vec<Entry>> = BTreeMap::new();
    for row in rows {
        found.entry(EventId(row.event_id.0)).or_default().push(row.into());
    }
    Ok(found)
}

/// The events of these rows, in their order, each with the days that are blocked for it.
fn with_blocked_days(
    read: &mut Read<'_>,
    club: ClubId,
    rows: Vec<EventRow>,
) -> Result<Vec<Event>, StoreError> {
    let theirs = blocked_days::event_id.eq_any(rows.iter().map(|row| row.id));
    let days: Vec<BlockedDayRow> = blocked_days::table
        .filter(blocked_days::club_id.eq(Key(club.0)).and(theirs))
        .select(BlockedDayRow::as_select())
        .order((blocked_days::event_id, blocked_days::on_date))
        .load(read.conn())?;
    let mut blocked: BTreeMap<Key, BTreeSet<Date>> = BTreeMap::new();
    for day in days {
        blocked.entry(day.event_id).or_default().insert(day.on_date.0);
    }
    rows.into_iter()
        .map(|row| {
            let days = blocked.remove(&row.id).unwrap_or_default();
            row.event(days)
        })
        .collect()
}
