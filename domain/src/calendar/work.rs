//! A piece of work as a calendar knows it: what it is told by from any other, and the days on which it is
//! expected to come due.

use jiff::{Span, civil::Date};

use super::Host;
use crate::{
    forecast::Band,
    ids::{PartId, RuleId},
};

/// A window in which work comes due has at most so many days.
pub const MOST_WINDOW_DAYS: i64 = 14;

/// Work that is expected later than so many days from now stands in no calendar.
pub const FURTHEST_DAYS: i64 = 60;

/// One round of the work that a rule asks for on a part.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Work {
    /// On which part.
    pub part: PartId,
    /// By which rule.
    pub rule: RuleId,
    /// Which round; see [`crate::reminders::cycle`].
    pub cycle: String,
}

impl Work {
    /// What its entry is known by in every calendar: the same for the same round of the work, another
    /// for the next.
    ///
    /// # Example
    /// ```
    /// use domain::{calendar::{Host, Work}, ids::{PartId, RuleId}};
    /// use uuid::Uuid;
    /// let (part, rule) = (PartId(Uuid::from_u128(1)), RuleId(Uuid::from_u128(2)));
    /// let first = Work { part, rule, cycle: "first".to_owned() };
    /// assert_eq!(
    ///     first.uid(&Host::of("https://club.example")),
    ///     "work-00000000-0000-0000-0000-000000000001-\
    ///      00000000-0000-0000-0000-000000000002-89d7ed7f996f1d41@club.example"
    /// );
    /// ```
    #[must_use]
    pub fn uid(&self, host: &Host) -> String {
        format!("work-{}-{}-{:016x}@{host}", self.part, self.rule, fnv_1a(&self.cycle))
    }
}

/// The hash FNV-1a of 64 bits (RFC 9923, section 2). It is kept by no secret and keeps none: it only
/// has to be the same in every version of this program, which the standard library's is not.
fn fnv_1a(text: &str) -> u64 {
    const BASIS: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0100_0000_01b3;
    text.bytes().fold(BASIS, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(PRIME))
}

/// The days in which work is expected to come due: from early until late, but at most
/// [`MOST_WINDOW_DAYS`] days around the day in the middle. None if nobody can tell that day.
///
/// # Example
/// ```
/// use domain::{calendar::due_window, forecast::{Band, Method}};
/// use jiff::civil::date;
/// let band = |early, late| Band {
///     p10_on: Some(date(2027, 3, early)),
///     p50_on: Some(date(2027, 3, 15)),
///     p90_on: late,
///     method: Method::RecentRate,
/// };
/// let near = band(13, Some(date(2027, 3, 18)));
/// assert_eq!(due_window(&near), Some((date(2027, 3, 13), date(2027, 3, 18))));
/// let wide = band(1, None);
/// assert_eq!(due_window(&wide), Some((date(2027, 3, 9), date(2027, 3, 22))));
/// ```
#[must_use]
pub fn due_window(band: &Band) -> Option<(Date, Date)> {
    let middle = band.p50_on?;
    let (before, after) = ((MOST_WINDOW_DAYS - 1) / 2, MOST_WINDOW_DAYS / 2);
    let earliest = middle.saturating_sub(Span::new().days(before));
    let latest = middle.saturating_add(Span::new().days(after));
    let early = band.p10_on.map_or(earliest, |early| early.max(earliest));
    let late = band.p90_on.map_or(latest, |late| late.min(latest));
    Some((early, late))
}
