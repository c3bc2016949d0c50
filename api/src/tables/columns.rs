//! The columns of a table, by whatever name a file has for them. It knows no values.

use super::{
    reading::Row,
    report::{Problem, ReadColumn},
};

/// A column.
#[derive(Debug)]
pub(super) struct Column {
    /// How it is called where it is written.
    pub(super) name: &'static str,
    /// What else it may be called, in the words of a header as [`plain`] has them.
    pub(super) also: &'static [&'static str],
    /// A file without it cannot be read.
    pub(super) needed: bool,
    /// Times or days stand in it.
    pub(super) dated: bool,
    /// It says nothing of its own: a name beside an id, or who typed the row in.
    pub(super) aside: bool,
}

/// A column that a file may lack.
pub(super) const fn column(name: &'static str, also: &'static [&'static str]) -> Column {
    Column { name, also, needed: false, dated: false, aside: false }
}

impl Column {
    pub(super) const fn needed(self) -> Self {
        Self { needed: true, ..self }
    }

    pub(super) const fn dated(self) -> Self {
        Self { dated: true, ..self }
    }

    pub(super) const fn aside(self) -> Self {
        Self { aside: true, ..self }
    }
}

/// Where the columns of a table stand in a file.
pub(super) struct Places {
    /// For each column of the table, its place in a row.
    of_column: Vec<Option<usize>>,
    columns: &'static [Column],
    header: Vec<String>,
}

impl Places {
    /// Finds the columns in the header of a file.
    ///
    /// # Errors
    /// Every column that is missing or stands there twice.
    pub(super) fn of(header: &Row, columns: &'static [Column]) -> Result<Self, Vec<Problem>> {
        let names = header.cells.iter().map(|name| name.trim().to_owned()).collect();
        let mut found =
            Self { of_column: Vec::with_capacity(columns.len()), columns, header: names };
        let mut problems = Vec::new();
        let numbers: Vec<_> = found.header.iter().map(|name| found.number(name)).collect();
        for (number, column) in columns.iter().enumerate() {
            let mut places = numbers.iter().enumerate().filter(|(_, one)| **one == Some(number));
            let place = places.next().map(|(place, _)| place);
            let name = |place: usize| found.header.get(place).map_or("", String::as_str);
            for (again, _) in places {
                let other = place.map_or("", name);
                let reason =
                    format!("is {}, and so is {other:?}; leave one of them out", column.name);
                let problem =
                    Problem::of_header(header.line, name(again), "repeated_column", reason);
                problems.push(problem);
            }
            if column.needed && place.is_none() {
                let reason =
                    format!("is missing; it may also be called {}", column.also.join(", "));
                let problem =
                    Problem::of_header(header.line, column.name, "missing_column", reason);
                problems.push(problem);
            }
            found.of_column.push(place);
        }
        if problems.is_empty() { Ok(found) } else { Err(problems) }
    }

    /// Which column a name of the file stands for.
    fn number(&self, name: &str) -> Option<usize> {
        let name = plain(name);
        let is = |column: &Column| column.name == name || column.also.contains(&name.as_str());
        self.columns.iter().position(is)
    }

    /// Where a column stands, and what the file calls it.
    pub(super) fn find<'p>(&'p self, column: &str) -> Option<(usize, &'p str)> {
        let number = self.columns.iter().position(|one| one.name == column)?;
        let place = self.of_column.get(number).copied().flatten()?;
        Some((place, self.header.get(place)?))
    }

    /// How many cells a row has.
    pub(super) const fn width(&self) -> usize {
        self.header.len()
    }

    /// The names as the file has them.
    pub(super) fn header(&self) -> &[String] {
        &self.header
    }

    /// Which of the columns say something, and stand in the file; what a row refers to always does, since
    /// it may have been named another way.
    pub(super) fn telling(&self) -> Vec<bool> {
        let telling = |(column, place): (&Column, &Option<usize>)| {
            !column.aside && (place.is_some() || column.name.ends_with("_id"))
        };
        self.columns.iter().zip(&self.of_column).map(telling).collect()
    }

    /// Where days stand.
    pub(super) fn dated(&self) -> Vec<usize> {
        let dated = |(column, place): (&Column, &Option<usize>)| place.filter(|_| column.dated);
        self.columns.iter().zip(&self.of_column).filter_map(dated).collect()
    }

    /// As what every column of the file was read.
    pub(super) fn told(&self) -> Vec<ReadColumn> {
        let told = |header: &String| {
            let column = self.number(header).and_then(|number| self.columns.get(number));
            ReadColumn { header: header.clone(), column: column.map(|column| column.name) }
        };
        self.header.iter().map(told).collect()
    }
}

/// A name without what does not matter in it: case, and what stands between words.
fn plain(name: &str) -> String {
    let words =
        name.split(|c: char| !c.is_alphanumeric() && c != '#').filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join("_").to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLUMNS: &[Column] = &[
        column("bow", &["bogen", "arc"]).needed(),
        column("shots", &["arrows", "pfeile"]).needed(),
    ];

    fn row(cells: &[&str]) -> Row {
        Row { line: 1, cells: cells.iter().map(|&cell| cell.to_owned()).collect() }
    }

    #[test]
    fn names_are_found_in_any_order_case_and_language() {
        for header in [["shots", "bow"], ["Pfeile", "BOGEN"], [" Arrows ", "Arc"]] {
            let places = Places::of(&row(&header), COLUMNS).ok().unwrap();
            assert_eq!(places.find("bow"), Some((1, header[1])), "{header:?}");
            assert_eq!(places.find("shots").map(|(place, _)| place), Some(0));
        }
        assert_eq!(plain("Draw weight (lbf)"), "draw_weight_lbf");
        assert_eq!(plain("Bow-ID"), "bow_id");
    }

    #[test]
    fn what_is_missing_or_repeated_is_listed_and_what_is_too_much_is_told() {
        let codes = |header: &[&str]| -> Vec<(String, &'static str)> {
            let problems = Places::of(&row(header), COLUMNS).err().unwrap_or_default();
            problems.into_iter().map(|one| (one.column.unwrap(), one.code)).collect()
        };
        assert_eq!(
            codes(&["weather"]),
            [("bow".to_owned(), "missing_column"), ("shots".to_owned(), "missing_column")]
        );
        assert_eq!(codes(&["bow", "shots", "Arrows"]), [("Arrows".to_owned(), "repeated_column")]);
        let told = Places::of(&row(&["bow", "shots", "weather"]), COLUMNS).ok().unwrap().told();
        assert_eq!(
            told.iter().map(|one| one.column).collect::<Vec<_>>(),
            [Some("bow"), Some("shots"), None]
        );
    }
}
