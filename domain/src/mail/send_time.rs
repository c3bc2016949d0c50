//! When a mail that can wait goes out: the only place where that is computed.

use jiff::{
    Timestamp,
    civil::{Date, Time},
};

use crate::{
    quiet_hours::QuietHours,
    time::{TimeError, Zone},
};

/// When the next mail that can wait goes out after a moment, and for which date where its recipient lives:
/// at a time of day, or when the quiet hours that this falls into are over.
///
/// Each date has one such moment. A time that the clocks skip is as far after the gap's beginning as was
/// asked; one that they show twice is the first of the two (see [`Zone::instant`]).
///
/// # Errors
/// A [`TimeError`] at the end of the calendar.
///
/// # Example
/// ```
/// use domain::{mail::next_send, quiet_hours::QuietHours, time::{Zone, parse_instant}};
/// use jiff::civil::{date, time};
/// // Clocks in London go from 01:00 to 02:00 on 2027-03-28 (IANA tz database).
/// let zone = Zone::parse("Europe/London")?;
/// let evening = parse_instant("2027-03-27T20:00:00Z")?;
/// let awake = QuietHours { from: time(12, 0, 0, 0), until: time(12, 0, 0, 0) };
/// let half_past_one = next_send(&zone, time(1, 30, 0, 0), awake, evening)?;
/// // There is no 01:30; this is 02:30 by the clock.
/// assert_eq!(half_past_one, (parse_instant("2027-03-28T01:30:00Z")?, date(2027, 3, 28)));
/// let rested = next_send(&zone, time(1, 30, 0, 0), QuietHours::NIGHT, evening)?;
/// assert_eq!(rested, (parse_instant("2027-03-28T06:00:00Z")?, date(2027, 3, 28)));
/// # Ok::<(), domain::time::TimeError>(())
/// ```
pub fn next_send(
    zone: &Zone,
    time: Time,
    quiet: QuietHours,
    after: Timestamp,
) -> Result<(Timestamp, Date), TimeError> {
    let (at, on) = zone.next(time, after)?;
    Ok((quiet.after(at, zone)?, on))
}
