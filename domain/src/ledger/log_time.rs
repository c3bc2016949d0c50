//! When the shots of a log were shot, as far as the sender's clock and words can be trusted.

use jiff::{SignedDuration, Timestamp, civil};

use crate::time::{self, TimeError, Zone};

/// How far ahead of the server's clock a log may lie.
pub const MAX_AHEAD: SignedDuration = SignedDuration::from_mins(10);

/// A phone's clock counts as wrong from here on; below it is the time the message took.
const SKEW_WORTH_NOTING: SignedDuration = SignedDuration::from_mins(2);

/// Why the time of a log was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum LogTimeError {
    /// Not a time at all.
    #[error("{0}")]
    Time(#[from] TimeError),
    /// Shots that have not been shot yet.
    #[error("lies in the future: the server's time is {now}")]
    InFuture {
        /// The server's time.
        now: Timestamp,
    },
}

/// When shots were shot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LogTime {
    /// When, as far as we know: what the ledger counts by.
    pub at: Timestamp,
    /// When, in the sender's words; a repeated log is recognised by it.
    pub stated: Timestamp,
    /// Only the day is known; `at` is then noon at the club, or the moment of receipt before noon.
    pub date_only: bool,
    /// By how many seconds the sender's clock was ahead of ours, where that was worth noting.
    pub skew_s: Option<i64>,
}

impl LogTime {
    /// Settles the time of a log.
    ///
    /// `stated` is an RFC 3339 time with an offset, or a date, which stands for noon in the
    /// club's zone (today's date before noon: now). `sent_at` is the sender's own clock at the
    /// moment of sending; where it differs from `received` by more than two minutes the stated
    /// time is moved by the difference.
    ///
    /// # Errors
    /// [`LogTimeError`]: unreadable, without an offset, or after the moment of receipt by more
    /// than ten minutes (for a date: after the club's today).
    ///
    /// # Example
    /// ```
    /// use domain::{ledger::LogTime, time::{Zone, parse_instant}};
    /// let received = parse_instant("2027-03-14T19:00:00Z")?;
    /// let phone_two_hours_fast = Some(parse_instant("2027-03-14T21:00:00Z")?);
    /// let time = LogTime::settle("2027-03-14T20:30:00Z", phone_two_hours_fast, received, &Zone::utc())?;
    /// assert_eq!(time.at, parse_instant("2027-03-14T18:30:00Z")?);
    /// assert_eq!(time.skew_s, Some(7_200));
    /// # Ok::<(), domain::ledger::LogTimeError>(())
    /// ```
    pub fn settle(
        stated: &str,
        sent_at: Option<Timestamp>,
        received: Timestamp,
        club: &Zone,
    ) -> Result<Self, LogTimeError> {
        if stated.len() <= 10 && !stated.contains(['T', ':']) {
            return Self::on(time::parse_date(stated)?, received, club);
        }
        let stated = time::parse_instant(stated)?;
        let skew = sent_at
            .map(|sent_at| sent_at.duration_since(received))
            .filter(|skew| skew.abs() > SKEW_WORTH_NOTING);
        let at = skew.map_or(Ok(stated), |skew| stated.checked_sub(skew));
        let at = at.map_err(|_overflow| TimeError::OutOfRange).and_then(time::in_range)?;
        if at.duration_since(received) > MAX_AHEAD {
            return Err(LogTimeError::InFuture { now: received });
        }
        Ok(Self { at, stated, date_only: false, skew_s: skew.map(|skew| skew.as_secs()) })
    }

    fn on(date: civil::Date, received: Timestamp, club: &Zone) -> Result<Self, LogTimeError> {
        if date > club.date_of(received) {
            return Err(LogTimeError::InFuture { now: received });
        }
        let noon = club.instant(date, civil::time(12, 0, 0, 0))?;
        Ok(Self { at: noon.min(received), stated: noon, date_only: true, skew_s: None })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RECEIVED: &str = "2027-03-14T19:00:00Z";

    fn check(stated: &str, sent_at: Option<&str>, expected: Result<(&str, Option<i64>), &str>) {
        let instant = |text: &str| time::parse_instant(text).unwrap();
        let zone = Zone::parse("America/Denver").unwrap();
        let got = LogTime::settle(stated, sent_at.map(instant), instant(RECEIVED), &zone);
        let got = got.map(|t| (t.at.to_string(), t.skew_s)).map_err(|e| e.to_string());
        match (got, expected) {
            (Ok(got), Ok((at, skew))) => assert_eq!(got, (at.to_owned(), skew), "{stated}"),
            (Err(got), Err(words)) => assert!(got.contains(words), "{stated}: {got}"),
            (got, _) => panic!("{stated}: {got:?}"),
        }
    }

    #[test]
    fn a_log_is_of_the_past_or_of_the_next_ten_minutes() {
        check("2027-03-14T18:00:00Z", None, Ok(("2027-03-14T18:00:00Z", None)));
        check("2027-03-14T19:10:00Z", None, Ok(("2027-03-14T19:10:00Z", None)));
        check("2027-03-14T19:10:01Z", None, Err("future"));
        check("2027-03-14T18:00:00", None, Err("offset"));
    }

    #[test]
    fn a_phone_with_a_wrong_clock_is_put_right_and_noted() {
        let two_hours_fast = Some("2027-03-14T21:00:00Z");
        check("2027-03-14T20:30:00Z", two_hours_fast, Ok(("2027-03-14T18:30:00Z", Some(7_200))));
        let a_day_slow = Some("2027-03-13T19:00:00Z");
        check("2027-03-13T18:00:00Z", a_day_slow, Ok(("2027-03-14T18:00:00Z", Some(-86_400))));
        let on_the_way = Some("2027-03-14T18:59:00Z");
        check("2027-03-14T18:30:00Z", on_the_way, Ok(("2027-03-14T18:30:00Z", None)));
    }

    #[test]
    fn a_time_that_was_put_right_is_still_one_that_a_club_can_have_on_record() {
        // Sixty years fast: what the phone calls 1970 would be 1910.
        let years_fast = Some("2087-03-14T19:00:00Z");
        check("1970-06-01T00:00:00Z", years_fast, Err("between 1970 and 2200"));
        check(
            "2087-03-14T18:00:00Z",
            years_fast,
            Ok(("2027-03-14T18:00:00Z", Some(1_893_456_000))),
        );
    }

    #[test]
    fn a_date_is_noon_at_the_club_but_never_in_the_future() {
        // Denver is at UTC-6 from 2027-03-14, 02:00 local (IANA tz database).
        check("2027-03-13", None, Ok(("2027-03-13T19:00:00Z", None)));
        check("2027-03-14", None, Ok(("2027-03-14T18:00:00Z", None)));
        check("2027-03-15", None, Err("future"));
        check("14.3.2027", None, Err("date"));
    }
}
