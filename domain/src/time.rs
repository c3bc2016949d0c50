//! Time as the trade needs it: instants, the zone somebody lives in, and the clock that is handed
//! in from outside.

use jiff::{
    Timestamp, civil,
    tz::{TimeZone, TimeZoneDatabase},
};

/// Where "now" comes from. The only real one is in the binary; tests and the demo set theirs.
pub trait Clock: Send + Sync {
    /// The present moment.
    fn now(&self) -> Timestamp;
}

/// Why a text is not a time or a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum TimeError {
    /// Not RFC 3339 with an offset.
    #[error("must be an RFC 3339 time with an offset, such as 2026-01-24T18:30:00+01:00")]
    NotAnInstant,
    /// A time without a zone: nobody can know when that was.
    #[error("has no offset: write Z or one such as +01:00 after the time")]
    NoOffset,
    /// Not a calendar date.
    #[error("must be a date, such as 2026-01-24")]
    NotADate,
    /// Outside of what a club can have on record.
    #[error("must lie between 1970 and 2200")]
    OutOfRange,
    /// No such zone in the IANA time zone database.
    #[error("must be a zone of the IANA time zone database, such as Europe/Lisbon")]
    UnknownZone,
    /// Not a time of day.
    #[error("must be a time of day, such as 07:30")]
    NotATimeOfDay,
}

/// A zone of the IANA time zone database.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Zone(TimeZone);

impl Zone {
    /// Coordinated universal time.
    #[must_use]
    pub fn utc() -> Self {
        Self(TimeZone::UTC)
    }

    /// Looks a zone up by its name, in the copy of the database that is part of the program: the same zones
    /// and the same clock changes on every machine, those without a copy or with an old one as well.
    ///
    /// # Errors
    /// [`TimeError::UnknownZone`].
    ///
    /// # Example
    /// ```
    /// use domain::time::{TimeError, Zone};
    /// assert_eq!(Zone::parse("Europe/Lisbon")?.name(), "Europe/Lisbon");
    /// assert_eq!(Zone::parse("Mars/Base"), Err(TimeError::UnknownZone));
    /// # Ok::<(), TimeError>(())
    /// ```
    pub fn parse(name: &str) -> Result<Self, TimeError> {
        match TimeZoneDatabase::bundled().get(name) {
            Ok(zone) if zone.iana_name().is_some() => Ok(Self(zone)),
            _ => Err(TimeError::UnknownZone),
        }
    }

    /// The zone's name.
    #[must_use]
    pub fn name(&self) -> &str {
        self.0.iana_name().unwrap_or("UTC")
    }

    /// The calendar date that an instant has here.
    #[must_use]
    pub fn date_of(&self, at: Timestamp) -> civil::Date {
        at.to_zoned_datetime(self.0.clone()).date()
    }

    /// The time of day that an instant has here.
    #[must_use]
    pub fn time_of(&self, at: Timestamp) -> civil::Time {
        at.to_zoned_datetime(self.0.clone()).time()
    }

    /// The instant of a date and time of day here. In the gap of a clock change it is the moment
    /// as far after the gap's start as was asked; in a fold, the first of the two.
    ///
    /// # Errors
    /// [`TimeError::OutOfRange`] at the ends of the calendar.
    pub fn instant(&self, date: civil::Date, time: civil::Time) -> Result<Timestamp, TimeError> {
        match date.to_datetime(time).to_zoned_datetime(self.0.clone()) {
            Ok(zoned) => Ok(zoned.timestamp()),
            Err(_) => Err(TimeError::OutOfRange),
        }
    }

    /// When a date begins here, and when the next one does.
    ///
    /// # Errors
    /// [`TimeError::OutOfRange`] at the ends of the calendar.
    ///
    /// # Example
    /// ```
    /// use domain::time::{Zone, parse_instant};
    /// use jiff::civil::date;
    /// // The day on which clocks go forward has 23 hours.
    /// let (begin, end) = Zone::parse("Europe/Lisbon")?.day(date(2027, 3, 28))?;
    /// assert_eq!(begin, parse_instant("2027-03-28T00:00:00Z")?);
    /// assert_eq!(end, parse_instant("2027-03-28T23:00:00Z")?);
    /// # Ok::<(), domain::time::TimeError>(())
    /// ```
    pub fn day(&self, date: civil::Date) -> Result<(Timestamp, Timestamp), TimeError> {
        let Ok(tomorrow) = date.tomorrow() else { return Err(TimeError::OutOfRange) };
        let midnight = civil::Time::midnight();
        Ok((self.instant(date, midnight)?, self.instant(tomorrow, midnight)?))
    }

    /// The next moment after `now` that stands for `time` on some date here (see [`Zone::instant`]), and
    /// that date.
    ///
    /// # Errors
    /// [`TimeError::OutOfRange`] at the end of the calendar.
    ///
    /// # Example
    /// ```
    /// use domain::time::{Zone, parse_instant};
    /// use jiff::civil::{date, time};
    /// let zone = Zone::parse("Europe/Lisbon")?;
    /// let evening = parse_instant("2027-06-01T20:00:00+01:00")?;
    /// let (at, on) = zone.next(time(7, 30, 0, 0), evening)?;
    /// assert_eq!(at, parse_instant("2027-06-02T06:30:00Z")?);
    /// assert_eq!(on, date(2027, 6, 2));
    /// # Ok::<(), domain::time::TimeError>(())
    /// ```
    pub fn next(
        &self,
        time: civil::Time,
        now: Timestamp,
    ) -> Result<(Timestamp, civil::Date), TimeError> {
        let mut date = self.date_of(now);
        loop {
            let at = self.instant(date, time)?;
            if at > now {
                return Ok((at, date));
            }
            let Ok(tomorrow) = date.tomorrow() else { return Err(TimeError::OutOfRange) };
            date = tomorrow;
        }
    }
}

/// Reads an instant: RFC 3339 with an offset, between 1970 and 2200, kept to the microsecond
/// because that is what both databases keep.
///
/// # Errors
/// [`TimeError::NoOffset`], [`TimeError::NotAnInstant`], [`TimeError::OutOfRange`].
///
/// # Example
/// ```
/// use domain::time::{TimeError, parse_instant};
/// assert_eq!(parse_instant("2027-03-14T18:30:00+01:00")?.to_string(), "2027-03-14T17:30:00Z");
/// assert_eq!(parse_instant("2027-03-14T18:30:00"), Err(TimeError::NoOffset));
/// # Ok::<(), TimeError>(())
/// ```
pub fn parse_instant(text: &str) -> Result<Timestamp, TimeError> {
    match after_time(text) {
        Some("") => Err(TimeError::NoOffset),
        Some(offset) if is_offset(offset) => match text.parse::<Timestamp>() {
            Ok(at) => in_range(to_microseconds(at)),
            Err(_) => Err(TimeError::NotAnInstant),
        },
        None if fits(text, "dddd-dd-dd") || fits(text, "dddd-dd-ddTdd:dd") => {
            Err(TimeError::NoOffset)
        }
        _ => Err(TimeError::NotAnInstant),
    }
}

/// What stands after the date and time of an RFC 3339 text (section 5.6), if it begins with them.
/// The library behind us reads much more: compact forms, spaces, years of six digits, zone names.
fn after_time(text: &str) -> Option<&str> {
    let (time, rest) = text.split_at_checked("2027-03-14T18:30:00".len())?;
    if !fits(time, "dddd-dd-ddTdd:dd:dd") {
        return None;
    }
    let Some(fraction) = rest.strip_prefix('.') else { return Some(rest) };
    let offset = fraction.trim_start_matches(|c: char| c.is_ascii_digit());
    (offset.len() < fraction.len()).then_some(offset)
}

/// Whether a text is an offset as RFC 3339 writes it: hours up to 23, minutes up to 59.
fn is_offset(text: &str) -> bool {
    let numeric = fits(text, "+dd:dd") || fits(text, "-dd:dd");
    matches!(text, "Z" | "z")
        || (numeric
            && text.get(1..3).is_some_and(|hours| hours <= "23")
            && text.get(4..6).is_some_and(|minutes| minutes <= "59"))
}

/// Whether a text has a shape, in which `d` stands for a digit and `T` also for `t`.
fn fits(text: &str, shape: &str) -> bool {
    text.len() == shape.len()
        && text.bytes().zip(shape.bytes()).all(|(found, asked)| match asked {
            b'd' => found.is_ascii_digit(),
            b'T' => found.eq_ignore_ascii_case(&b'T'),
            _ => found == asked,
        })
}

/// Reads a date of the form 2027-03-14, between 1970 and 2200.
///
/// # Errors
/// [`TimeError::NotADate`], [`TimeError::OutOfRange`].
pub fn parse_date(text: &str) -> Result<civil::Date, TimeError> {
    let looks_right = fits(text, "dddd-dd-dd");
    match text.parse::<civil::Date>() {
        Ok(date) if looks_right && (1970..2200).contains(&date.year()) => Ok(date),
        Ok(_) if looks_right => Err(TimeError::OutOfRange),
        _ => Err(TimeError::NotADate),
    }
}

/// Reads a time of day of the form 07:30.
///
/// # Errors
/// [`TimeError::NotATimeOfDay`].
pub fn parse_time_of_day(text: &str) -> Result<civil::Time, TimeError> {
    match text.parse::<civil::Time>() {
        Ok(time) if fits(text, "dd:dd") => Ok(time),
        _ => Err(TimeError::NotATimeOfDay),
    }
}

/// Drops what is below a microsecond, so that a time read back equals the time written.
#[must_use]
pub fn to_microseconds(at: Timestamp) -> Timestamp {
    Timestamp::from_microsecond(at.as_microsecond()).unwrap_or(at)
}

/// Passes an instant between 1970 and 2200.
///
/// # Errors
/// [`TimeError::OutOfRange`].
pub fn in_range(at: Timestamp) -> Result<Timestamp, TimeError> {
    const YEAR_2200_S: i64 = 7_258_118_400;
    if (0..YEAR_2200_S).contains(&at.as_second()) { Ok(at) } else { Err(TimeError::OutOfRange) }
}

#[cfg(test)]
mod tests {
    use jiff::civil::{date, time};

    use super::*;

    fn check(text: &str, expected: Result<&str, TimeError>) {
        assert_eq!(
            parse_instant(text).map(|t| t.to_string()),
            expected.map(str::to_owned),
            "{text}"
        );
    }

    #[test]
    fn an_instant_has_an_offset_and_a_sane_year() {
        check("2027-03-14T18:30:00Z", Ok("2027-03-14T18:30:00Z"));
        check("2027-03-14T18:30:00.1234567-08:00", Ok("2027-03-15T02:30:00.123456Z"));
        check("2027-03-14", Err(TimeError::NoOffset));
        check("2027-03-14T18:30", Err(TimeError::NoOffset));
        check("2027-03-14T24:00:00Z", Err(TimeError::NotAnInstant));
        check("0001-01-01T00:00:00Z", Err(TimeError::OutOfRange));
        check("9999-01-01T00:00:00Z", Err(TimeError::OutOfRange));
        check("2027-03-14T18:30:00+01:00[Europe/Paris]", Err(TimeError::NotAnInstant));
        check("yesterday", Err(TimeError::NotAnInstant));
    }

    #[test]
    fn an_instant_has_the_shape_of_rfc_3339_and_no_other() {
        // The examples of RFC 3339, section 5.8, that lie between 1970 and 2200.
        check("1985-04-12T23:20:50.52Z", Ok("1985-04-12T23:20:50.52Z"));
        check("1996-12-19T16:39:57-08:00", Ok("1996-12-20T00:39:57Z"));
        check("1985-04-12t23:20:50z", Ok("1985-04-12T23:20:50Z"));
        check("2026-01-15T18:30:00+23:59", Ok("2026-01-14T18:31:00Z"));
        for other in [
            "20260115T183000Z",
            "2026-01-15 18:30:00Z",
            "2026-01-15T18Z",
            "2026-01-15T18:30Z",
            "2026-01-15T18:30:00+01",
            "2026-01-15T18:30:00+0100",
            "2026-01-15T18:30:00+01:00:00",
            "2026-01-15T18:30:00,5Z",
            "2026-01-15T18:30:00.Z",
            "+002026-01-15T18:30:00Z",
            "2026-01-15T18:30:00+24:00",
            "2026-01-15T18:30:00+25:59",
            "2026-01-15T18:30:00+01:60",
            "2026-01-15T18:30:00Z ",
            " 2026-01-15T18:30:00Z",
            "2026-01-15T18:30:00\u{2212}01:00",
            "2026-01-15T18:30:0\u{0660}Z",
        ] {
            check(other, Err(TimeError::NotAnInstant));
        }
        check("2026-01-15T18:30:00.5", Err(TimeError::NoOffset));
    }

    #[test]
    fn a_time_of_day_is_two_digits_and_two_digits() {
        assert_eq!(parse_time_of_day("07:30"), Ok(time(7, 30, 0, 0)));
        for bad in ["T0730", "7:30", "07:30:00", "24:00", "07.30", "07:60", "0730 "] {
            assert_eq!(parse_time_of_day(bad), Err(TimeError::NotATimeOfDay), "{bad}");
        }
    }

    #[test]
    fn a_date_is_ten_characters() {
        assert_eq!(parse_date("2027-02-28"), Ok(date(2027, 2, 28)));
        for bad in ["2027-02-29", "20270228", "2027-2-8", "28.02.2027", "2027-02-28T00:00"] {
            assert_eq!(parse_date(bad), Err(TimeError::NotADate), "{bad}");
        }
        assert_eq!(parse_date("1066-10-14"), Err(TimeError::OutOfRange));
    }

    #[test]
    fn the_next_send_follows_the_clock_changes() {
        // Europe/London goes forward on 2027-03-28 and back on 2027-10-31 (IANA tz database).
        let london = Zone::parse("Europe/London").unwrap();
        let at = |text: &str| parse_instant(text).unwrap();
        let half_past_seven = time(7, 30, 0, 0);
        for (now, expected) in [
            ("2027-03-27T12:00:00Z", "2027-03-28T06:30:00Z"),
            ("2027-10-30T12:00:00Z", "2027-10-31T07:30:00Z"),
            ("2027-10-31T07:30:00Z", "2027-11-01T07:30:00Z"),
        ] {
            assert_eq!(london.next(half_past_seven, at(now)).unwrap().0, at(expected), "{now}");
        }
    }
}
