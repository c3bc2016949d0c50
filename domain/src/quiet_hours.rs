//! The hours of the night in which nobody wants mail that can wait.

use jiff::{Timestamp, civil};

use crate::time::{TimeError, Zone};

/// From when until when, in local time; over midnight where the end is earlier than the beginning.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct QuietHours {
    /// The first quiet minute.
    pub from: civil::Time,
    /// The first minute that is not quiet any more.
    pub until: civil::Time,
}

impl QuietHours {
    /// What a club starts with.
    pub const NIGHT: Self = Self { from: civil::time(21, 0, 0, 0), until: civil::time(7, 0, 0, 0) };

    /// Whether a local time of day is quiet. The same time twice means that none is.
    #[must_use]
    pub fn cover(&self, time: civil::Time) -> bool {
        if self.from <= self.until {
            self.from <= time && time < self.until
        } else {
            time >= self.from || time < self.until
        }
    }

    /// The first moment from `at` on that is not quiet.
    ///
    /// # Errors
    /// A [`TimeError`] at the end of the calendar.
    ///
    /// # Example
    /// ```
    /// use domain::{quiet_hours::QuietHours, time::{Zone, parse_instant}};
    /// let zone = Zone::parse("Europe/Lisbon")?; // UTC+1 in summer
    /// let night = parse_instant("2027-06-01T22:30:00Z")?;
    /// let morning = parse_instant("2027-06-02T06:00:00Z")?;
    /// assert_eq!(QuietHours::NIGHT.after(night, &zone)?, morning);
    /// assert_eq!(QuietHours::NIGHT.after(morning, &zone)?, morning);
    /// # Ok::<(), domain::time::TimeError>(())
    /// ```
    pub fn after(&self, at: Timestamp, zone: &Zone) -> Result<Timestamp, TimeError> {
        if self.cover(zone.time_of(at)) { Ok(zone.next(self.until, at)?.0) } else { Ok(at) }
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::time;

    use super::*;

    fn quiet(from: i8, until: i8) -> QuietHours {
        QuietHours { from: time(from, 0, 0, 0), until: time(until, 0, 0, 0) }
    }

    #[test]
    fn a_night_goes_over_midnight_and_a_nap_does_not() {
        for (hours, at, expected) in [
            (quiet(21, 7), time(21, 0, 0, 0), true),
            (quiet(21, 7), time(6, 59, 0, 0), true),
            (quiet(21, 7), time(7, 0, 0, 0), false),
            (quiet(13, 15), time(14, 0, 0, 0), true),
            (quiet(13, 15), time(15, 0, 0, 0), false),
            (quiet(9, 9), time(9, 0, 0, 0), false),
        ] {
            assert_eq!(hours.cover(at), expected, "{hours:?} at {at}");
        }
    }

    #[test]
    fn a_quiet_night_ends_by_the_clock_also_when_it_is_changed() {
        // Europe/London goes forward on 2027-03-28, 01:00 UTC (IANA tz database).
        let london = Zone::parse("Europe/London").unwrap();
        let at = "2027-03-28T00:30:00Z".parse().unwrap();
        let morning: Timestamp = "2027-03-28T06:00:00Z".parse().unwrap();
        assert_eq!(quiet(21, 7).after(at, &london), Ok(morning));
    }
}
