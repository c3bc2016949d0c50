//! Tournaments: when, how important, who goes with which bow, and the days on which nothing is
//! changed. What a bow needs before one is for [`crate::planning`].

use std::collections::{BTreeMap, BTreeSet};

use jiff::{Span, Timestamp, civil::Date};

use crate::{
    bows::Bow,
    ids::{BowId, EventId, MemberId, PartId},
    reach::Reach,
    text::Name,
    words::words,
};

words! {
    /// How much an event matters.
    pub enum Priority {
        /// What the season is for.
        Major = "major",
        /// One of the season.
        Regular = "regular",
        /// For practice.
        Minor = "minor",
    }
}

impl Priority {
    /// Whether strings and servings are left alone for a while before it.
    #[must_use]
    pub const fn wants_settled_bows(self) -> bool {
        matches!(self, Self::Major | Self::Regular)
    }
}

/// A tournament.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// Which one.
    pub id: EventId,
    /// What it is called.
    pub name: Name,
    /// Its days.
    pub dates: EventDates,
    /// How much it matters.
    pub priority: Priority,
    /// How many arrows each archer is expected to shoot at it.
    pub arrows_expected: u16,
    /// Days on which nothing is changed on a bow, such as those of the journey.
    pub blocked_days: BTreeSet<Date>,
    /// How often it was changed, and one more.
    pub version: i32,
    /// When it was called off, if it was.
    pub cancelled_at: Option<Timestamp>,
    /// Who entered it.
    pub created_by: MemberId,
    /// Since when it is on record.
    pub created_at: Timestamp,
    /// When it was last changed or called off.
    pub changed_at: Timestamp,
}

/// Who goes to an event with which bow, and which string lies in the case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Entry {
    /// Who.
    pub member: MemberId,
    /// With which bow.
    pub bow: BowId,
    /// With which spare string.
    pub spare: Option<PartId>,
}

/// The most blocked days of an event.
pub const MOST_BLOCKED_DAYS: usize = 60;
/// The most arrows that one archer is expected to shoot at an event.
pub const MOST_ARROWS: u16 = 5_000;
/// The most days that an event takes.
pub const MOST_DAYS: i64 = 60;
/// A blocked day lies at most so many days before an event.
pub const MOST_DAYS_BLOCKED_BEFORE: i64 = 60;
/// The most entries of an event.
pub const MOST_ENTRIES: usize = 500;

/// Why an event was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum EventError {
    /// It would be over before it began.
    #[error("must not lie before starts_on")]
    EndsBeforeItStarts,
    /// Longer than any tournament.
    #[error("must lie within {MOST_DAYS} days of starts_on")]
    TooLong,
    /// More arrows than anybody shoots.
    #[error("must be between 0 and {MOST_ARROWS} arrows")]
    Arrows,
    /// More blocked days than are left of a season.
    #[error("must be at most {MOST_BLOCKED_DAYS} days")]
    BlockedDays,
    /// Too long before the event to have to do with it, or after it.
    #[error(
        "must lie at most {MOST_DAYS_BLOCKED_BEFORE} days before starts_on, and not after ends_on"
    )]
    BlockedDay,
    /// More people than any tournament has targets for.
    #[error("must be at most {MOST_ENTRIES} entries")]
    Entries,
    /// Somebody would go twice with the same bow.
    #[error("names the same member and bow as another entry")]
    EnteredTwice,
    /// It was called off.
    #[error("the event was called off on {0}")]
    CalledOff(Timestamp),
}

/// Takes the arrows that an archer is expected to shoot at an event.
///
/// # Errors
/// [`EventError::Arrows`].
///
/// # Example
/// ```
/// use domain::events::{EventError, arrows_expected};
/// assert_eq!(arrows_expected(144), Ok(144));
/// assert_eq!(arrows_expected(-1), Err(EventError::Arrows));
/// assert_eq!(arrows_expected(5_001), Err(EventError::Arrows));
/// ```
pub fn arrows_expected(count: i64) -> Result<u16, EventError> {
    match u16::try_from(count) {
        Ok(count) if count <= MOST_ARROWS => Ok(count),
        _ => Err(EventError::Arrows),
    }
}

/// The first and last day of an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct EventDates {
    starts_on: Date,
    ends_on: Date,
}

impl EventDates {
    /// Takes two days.
    ///
    /// # Errors
    /// [`EventError::EndsBeforeItStarts`], [`EventError::TooLong`].
    ///
    /// # Example
    /// ```
    /// use domain::events::{EventDates, EventError};
    /// use jiff::civil::date;
    /// let (saturday, sunday) = (date(2027, 6, 12), date(2027, 6, 13));
    /// assert_eq!(EventDates::new(saturday, sunday)?.starts_on(), saturday);
    /// assert_eq!(EventDates::new(sunday, saturday), Err(EventError::EndsBeforeItStarts));
    /// # Ok::<(), EventError>(())
    /// ```
    pub fn new(starts_on: Date, ends_on: Date) -> Result<Self, EventError> {
        if ends_on < starts_on {
            return Err(EventError::EndsBeforeItStarts);
        }
        if ends_on > starts_on.saturating_add(Span::new().days(MOST_DAYS)) {
            return Err(EventError::TooLong);
        }
        Ok(Self { starts_on, ends_on })
    }

    /// The first day.
    #[must_use]
    pub const fn starts_on(self) -> Date {
        self.starts_on
    }

    /// The last day.
    #[must_use]
    pub const fn ends_on(self) -> Date {
        self.ends_on
    }

    /// Passes a day that may be blocked for an event of these dates.
    ///
    /// # Errors
    /// [`EventError::BlockedDay`].
    pub fn block(self, day: Date) -> Result<Date, EventError> {
        let earliest = self.starts_on.saturating_sub(Span::new().days(MOST_DAYS_BLOCKED_BEFORE));
        if (earliest..=self.ends_on).contains(&day) { Ok(day) } else { Err(EventError::BlockedDay) }
    }

    /// How many days are left until the first one; below zero when it has begun.
    #[must_use]
    pub fn days_left(self, today: Date) -> i64 {
        today.until(self.starts_on).map_or(i64::MIN, |span| i64::from(span.get_days()))
    }
}

impl Event {
    /// Whether it is still to come or under way.
    #[must_use]
    pub fn is_ahead(&self, today: Date) -> bool {
        self.cancelled_at.is_none() && today <= self.dates.ends_on
    }

    /// Calls it off. It stays on record.
    ///
    /// # Errors
    /// [`EventError::CalledOff`] when it was before.
    pub fn call_off(self, at: Timestamp) -> Result<Self, EventError> {
        self.on()?;
        Ok(Self { cancelled_at: Some(at), changed_at: at, ..self })
    }

    /// Passes an event that was not called off.
    ///
    /// # Errors
    /// [`EventError::CalledOff`].
    pub fn on(&self) -> Result<(), EventError> {
        self.cancelled_at.map_or(Ok(()), |at| Err(EventError::CalledOff(at)))
    }
}

/// The first entry that names the same member and bow as one before it, by its place.
///
/// # Example
/// ```
/// use domain::{events::{Entry, entered_twice}, ids::{BowId, MemberId, PartId}};
/// use uuid::Uuid;
/// let entry = |bow, spare: Option<u128>| Entry {
///     member: MemberId(Uuid::nil()),
///     bow: BowId(Uuid::from_u128(bow)),
///     spare: spare.map(|part| PartId(Uuid::from_u128(part))),
/// };
/// assert_eq!(entered_twice(&[entry(1, None), entry(2, None)]), None);
/// assert_eq!(entered_twice(&[entry(1, None), entry(2, None), entry(1, Some(7))]), Some(2));
/// ```
#[must_use]
pub fn entered_twice(entries: &[Entry]) -> Option<usize> {
    let mut seen = BTreeSet::new();
    entries.iter().position(|entry| !seen.insert((entry.member, entry.bow)))
}

/// Whether somebody of that reach may put `after` in the place of `before`: only entries of people and
/// bows within their reach differ. A bow that `bows` does not hold is out of everybody's reach.
#[must_use]
pub fn may_enter(
    reach: &Reach,
    bows: &BTreeMap<BowId, Bow>,
    before: &[Entry],
    after: &[Entry],
) -> bool {
    let within = |entry: &&Entry| {
        reach.member(entry.member) && bows.get(&entry.bow).is_some_and(|bow| reach.bow(bow))
    };
    let others = |entries: &[Entry]| -> BTreeSet<Entry> {
        entries.iter().filter(|entry| !within(entry)).copied().collect()
    };
    others(before) == others(after)
}

#[cfg(test)]
mod tests;
