//! The cells of one row on their way into the domain, collecting every one that cannot be taken. It knows
//! no table.

use std::fmt::Display;

use domain::{
    ledger::LogTime,
    time::{Zone, parse_date},
};
use jiff::{Timestamp, civil::Date};
use uuid::Uuid;

use super::{
    columns::Places,
    dates::{Dates, iso},
    reading::Row,
    report::Problem,
    writing::unguarded,
};

/// How what stands in cells is to be understood.
pub(super) struct Style {
    /// A comma in a number is its decimal mark.
    pub(super) decimal_comma: bool,
    pub(super) dates: Option<Dates>,
    pub(super) zone: Zone,
    pub(super) now: Timestamp,
}

/// A row that is being read.
pub(super) struct Cells<'a> {
    row: &'a Row,
    places: &'a Places,
    style: &'a Style,
    problems: Vec<Problem>,
}

impl<'a> Cells<'a> {
    pub(super) fn of(row: &'a Row, places: &'a Places, style: &'a Style) -> Self {
        let mut cells = Self { row, places, style, problems: Vec::new() };
        let too_many = row.cells.iter().skip(places.width()).any(|cell| !cell.trim().is_empty());
        if row.cells.len() < places.width() || too_many {
            let (has, wants) = (row.cells.len(), places.width());
            let reason = format!("has {has} cells, and there are {wants} columns");
            cells.problems.push(Problem::of_row(row.line, &reason));
        }
        cells
    }

    /// What stands in the way of the row.
    pub(super) fn into_problems(self) -> Vec<Problem> {
        self.problems
    }

    /// Refuses what stands in a column.
    pub(super) fn refuse(&mut self, column: &str, reason: impl Display) {
        let value = self.raw(column).unwrap_or_default();
        let called = self.places.find(column).map_or(column, |(_, name)| name);
        let problem = Problem::of_cell(self.row.line, called, value, &reason.to_string());
        self.problems.push(problem);
    }

    /// What was parsed, if it could be.
    pub(super) fn take<T>(&mut self, column: &str, parsed: Result<T, impl Display>) -> Option<T> {
        parsed.map_err(|reason| self.refuse(column, reason)).ok()
    }

    fn raw(&self, column: &str) -> Option<&'a str> {
        let (place, _) = self.places.find(column)?;
        self.row.cells.get(place).map(String::as_str)
    }

    /// What somebody typed, if anything.
    pub(super) fn text(&self, column: &str) -> Option<&'a str> {
        self.raw(column).map(unguarded).filter(|text| !text.trim().is_empty())
    }

    /// The same, where nothing may not be.
    pub(super) fn needed(&mut self, column: &str) -> Option<&'a str> {
        let text = self.text(column);
        if text.is_none() {
            self.refuse(column, "must not be empty");
        }
        text
    }

    /// What stands in a column, parsed if there is anything; none also where it was refused.
    pub(super) fn parse_if<T, E: Display>(
        &mut self,
        column: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let text = self.text(column)?;
        self.take(column, parse(text.trim()))
    }

    /// The same, where nothing may not be.
    pub(super) fn parse<T, E: Display>(
        &mut self,
        column: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let text = self.needed(column)?;
        self.take(column, parse(text.trim()))
    }

    /// One word of a closed list, in any case and with spaces where the list has underscores.
    pub(super) fn word<T: Display>(
        &mut self,
        column: &str,
        parse: impl FnOnce(&str) -> Option<T>,
        all: &[T],
    ) -> Option<T> {
        let one_of = || {
            let words: Vec<String> = all.iter().map(ToString::to_string).collect();
            format!("must be one of {}", words.join(", "))
        };
        let same = |text: &str| text.to_lowercase().replace([' ', '-'], "_");
        self.parse(column, |text| parse(&same(text)).ok_or_else(one_of))
    }

    pub(super) fn id(&mut self, column: &str) -> Option<Uuid> {
        self.parse_if(column, |text| match Uuid::try_parse(text) {
            Ok(id) if id.is_nil() => Err("must not be the nil UUID"),
            Ok(id) => Ok(id),
            Err(_) => Err("must be a UUID, or empty"),
        })
    }

    /// A number, with a decimal comma where a file with semicolons or tabs has one.
    pub(super) fn number(&mut self, column: &str) -> Option<f64> {
        let comma = self.style.decimal_comma;
        self.parse_if(column, |text| number(text, comma))
    }

    pub(super) fn whole(&mut self, column: &str) -> Option<i64> {
        self.parse_if(column, |text| text.parse::<i64>().map_err(|_bad| "must be a whole number"))
    }

    /// A number with a unit after it, or without one where it is in the column's own; `units` are those
    /// that are known, each with what one of it is.
    pub(super) fn measure(&mut self, column: &str, units: &[(&str, f64)]) -> Option<f64> {
        let comma = self.style.decimal_comma;
        self.parse(column, |text| -> Result<f64, String> {
            let unit = text.trim_start_matches(|c: char| c.is_ascii_digit() || ".,".contains(c));
            let value = number(text.strip_suffix(unit).unwrap_or(text).trim(), comma)?;
            let unit = unit.trim().to_lowercase();
            if unit.is_empty() {
                return Ok(value);
            }
            let known = units.iter().find(|(name, _)| *name == unit);
            let (_, one) = known.ok_or_else(|| {
                let names: Vec<&str> = units.iter().map(|(name, _)| *name).collect();
                format!("must be a number, with a unit of {} or none", names.join(", "))
            })?;
            // What was converted is no finer than it was measured.
            Ok(if (one - 1.0).abs() < f64::EPSILON {
                value
            } else {
                (value * one * 100.0).round() / 100.0
            })
        })
    }

    /// Yes or no; nothing is no.
    pub(super) fn yes(&mut self, column: &str) -> bool {
        let parsed = self.parse_if(column, |text| match text.to_lowercase().as_str() {
            "yes" | "true" | "1" | "x" | "ja" | "oui" | "si" | "sí" | "wahr" => Ok(true),
            "no" | "false" | "0" | "nein" | "nee" | "non" | "falsch" => Ok(false),
            _ => Err("must be yes or no"),
        });
        parsed.unwrap_or(false)
    }

    /// A day of the calendar.
    pub(super) fn day(&mut self, column: &str) -> Option<Date> {
        let dates = self.style.dates;
        self.parse_if(column, |text| parse_date(&iso(text, dates)))
    }

    /// A moment of the past; of a day alone it is noon at the club.
    pub(super) fn moment_if(&mut self, column: &str) -> Option<Timestamp> {
        let style = self.style;
        self.parse_if(column, |text| settle(text, style)).map(|time| time.at)
    }

    /// The same, where nothing may not be.
    pub(super) fn moment(&mut self, column: &str) -> Option<Timestamp> {
        self.log_time(column).map(|time| time.at)
    }

    /// The time of a log.
    pub(super) fn log_time(&mut self, column: &str) -> Option<LogTime> {
        let style = self.style;
        self.parse(column, |text| settle(text, style))
    }
}

fn settle(text: &str, style: &Style) -> Result<LogTime, domain::ledger::LogTimeError> {
    LogTime::settle(&iso(text, style.dates), None, style.now, &style.zone)
}

fn number(text: &str, comma: bool) -> Result<f64, String> {
    let pointed =
        if comma && !text.contains('.') { text.replacen(',', ".", 1) } else { text.to_owned() };
    let digits = pointed.trim_start_matches(['-', '+']);
    let plain = digits.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    let parsed = pointed.parse::<f64>().ok().filter(|number| plain && number.is_finite());
    parsed.ok_or_else(|| "must be a number, such as 36.5".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_has_a_comma_only_where_commas_part_no_cells() {
        assert_eq!(number("36.5", false), Ok(36.5));
        assert_eq!(number("36,5", true), Ok(36.5));
        assert_eq!(number("-1,25", true), Ok(-1.25));
        assert_eq!(number("36.5", true), Ok(36.5));
        for bad in ["36,5", "1e3", "NaN", "inf", "", "1.2.3", "0x1"] {
            assert!(number(bad, false).is_err(), "{bad}");
        }
        assert!(number("1.234,5", true).is_err());
        assert!(number("1,234,5", true).is_err());
    }
}
