//! Days as people write them. Which of two numbers is the day is never guessed: a file shows it by a
//! number above 12, or whoever sends it says so.

use std::borrow::Cow;

use super::report::Problem;

/// How days are written whose numbers stand between slashes or dashes, with the year last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dates {
    /// The day comes first.
    DayFirst,
    /// The month comes first.
    MonthFirst,
}

impl Dates {
    /// Both.
    pub const ALL: [Self; 2] = [Self::DayFirst, Self::MonthFirst];

    /// How it is called.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::DayFirst => "day_first",
            Self::MonthFirst => "month_first",
        }
    }

    /// The one that is called so.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|one| one.as_str() == word)
    }

    /// What the days of a file show, each with its line and column; none if it has none of that kind.
    ///
    /// # Errors
    /// The first of them, where they show neither or both.
    pub(super) fn of_file<'a>(
        cells: impl Iterator<Item = (u64, &'a str, &'a str)>,
    ) -> Result<Option<Self>, Problem> {
        let (mut day_first, mut month_first, mut either) = (None, None, None);
        for (line, column, text) in cells {
            let Some((_, first, second, _)) = numbers(text, &['/', '-']) else { continue };
            let shown = match (first > 12, second > 12) {
                (true, _) => &mut day_first,
                (false, true) => &mut month_first,
                // The third of March is that either way.
                (false, false) if first == second => continue,
                (false, false) => &mut either,
            };
            shown.get_or_insert((line, column, text));
        }
        match (day_first, month_first, either) {
            (Some(_), None, _) => Ok(Some(Self::DayFirst)),
            (None, Some(_), _) => Ok(Some(Self::MonthFirst)),
            (None, None, None) => Ok(None),
            (Some((_, _, other)), Some((line, column, text)), _) => {
                let reason =
                    format!("has the month first and {other:?} the day; write days as 2027-03-24");
                Err(Problem {
                    code: "mixed_dates",
                    ..Problem::of_cell(line, column, text, &reason)
                })
            }
            (None, None, Some((line, column, text))) => {
                let reason =
                    "could be two days: say which comes first by dates, day_first or month_first";
                Err(Problem {
                    code: "ambiguous_dates",
                    ..Problem::of_cell(line, column, text, reason)
                })
            }
        }
    }
}

impl std::fmt::Display for Dates {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.as_str())
    }
}

/// A day or time as it stands in a cell, with a day of another form made one of ISO 8601. What is
/// neither stays as it is, for its parser to refuse.
pub(super) fn iso(text: &str, dates: Option<Dates>) -> Cow<'_, str> {
    let found = numbers(text, &['/', '-', '.']);
    let Some((mark, first, second, year)) = found else { return Cow::Borrowed(text) };
    let (day, month) = match dates {
        // With dots the day is first wherever dots are written.
        Some(Dates::MonthFirst) if mark != '.' => (second, first),
        _ => (first, second),
    };
    Cow::Owned(format!("{year:04}-{month:02}-{day:02}"))
}

/// The numbers of a day of the form 24/3/2027, and what stands between them.
fn numbers(text: &str, marks: &[char]) -> Option<(char, u8, u8, u16)> {
    let mark = text.chars().find(|c| marks.contains(c))?;
    let mut parts = text.split(mark);
    let (first, second, year) = (parts.next()?, parts.next()?, parts.next()?);
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let short = |text: &str| (1..=2).contains(&text.len()) && digits(text);
    if parts.next().is_some() || !short(first) || !short(second) || year.len() != 4 || !digits(year)
    {
        return None;
    }
    Some((mark, first.parse().ok()?, second.parse().ok()?, year.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_of_day_and_month_is_shown_or_asked_for() {
        let of = |cells: &[&str]| {
            let cells = cells.iter().zip(2..).map(|(&text, line)| (line, "day", text));
            Dates::of_file(cells).map_err(|problem| (problem.line, problem.code))
        };
        assert_eq!(of(&["2027-03-24", "24.3.2027", ""]), Ok(None));
        assert_eq!(of(&["3/4/2027", "24/03/2027"]), Ok(Some(Dates::DayFirst)));
        assert_eq!(of(&["3/4/2027", "03/24/2027"]), Ok(Some(Dates::MonthFirst)));
        assert_eq!(of(&["3-4-2027", "24-3-2027"]), Ok(Some(Dates::DayFirst)));
        assert_eq!(of(&["3/3/2027", "05/05/2027"]), Ok(None));
        assert_eq!(of(&["3/3/2027", "3/4/2027"]), Err((3, "ambiguous_dates")));
        assert_eq!(of(&["24/3/2027", "3/24/2027"]), Err((3, "mixed_dates")));
    }

    #[test]
    fn a_day_is_put_in_the_order_of_the_calendar() {
        for (text, dates, expected) in [
            ("24/03/2027", Some(Dates::DayFirst), "2027-03-24"),
            ("3/4/2027", Some(Dates::MonthFirst), "2027-03-04"),
            ("3/3/2027", None, "2027-03-03"),
            ("24.3.2027", Some(Dates::MonthFirst), "2027-03-24"),
            ("2027-03-24", None, "2027-03-24"),
            ("2027-03-24T18:30:00Z", None, "2027-03-24T18:30:00Z"),
            ("24/03/27", Some(Dates::DayFirst), "24/03/27"),
            ("1/2/3/4", None, "1/2/3/4"),
        ] {
            assert_eq!(iso(text, dates), expected, "{text}");
        }
    }
}
