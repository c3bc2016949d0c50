//! The days of the club that a list is asked for.

use domain::time::{Zone, parse_date};
use jiff::{Timestamp, civil::Date};

use crate::{error::ApiError, fields::Fields};

/// From a day to a day, both included; open where none is given.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Days {
    pub(crate) from: Option<Date>,
    pub(crate) until: Option<Date>,
}

impl Days {
    /// As a query gives them, in `from` and `until`.
    pub(crate) fn parse(fields: &mut Fields, from: Option<&str>, until: Option<&str>) -> Self {
        let from = fields.take_if("/from", from, parse_date);
        let until = fields.take_if("/until", until, parse_date);
        if from.zip(until).is_some_and(|(from, until)| until < from) {
            fields.refuse("/until", "before_from", "must not be before from");
        }
        Self { from, until }
    }

    /// Whether a day is one of them.
    pub(crate) fn hold(self, on: Date) -> bool {
        self.from.is_none_or(|from| from <= on) && self.until.is_none_or(|until| on <= until)
    }

    /// When the first day begins, and when the last one is over.
    pub(crate) fn bounds(
        self,
        zone: &Zone,
    ) -> Result<(Option<Timestamp>, Option<Timestamp>), ApiError> {
        let mut fields = Fields::default();
        let begin = fields.take_if("/from", self.from, |date| zone.day(date).map(|day| day.0));
        let end = fields.take_if("/until", self.until, |date| zone.day(date).map(|day| day.1));
        fields.finish(Some((begin, end)))
    }
}
