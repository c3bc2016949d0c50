//! The rows of one file on their way: read, compared with what is on record, written, and told. It knows
//! of no table what stands in it.

use std::collections::{BTreeMap, BTreeSet};

use store::{StoreError, Tx};
use uuid::Uuid;

use super::{
    cells::{Cells, Style},
    columns::Places,
    dates::Dates,
    import::{Import, Imported, Mode, Rows},
    known::Known,
    reading::Sheet,
    report::{Counts, MOST_PROBLEMS, Problem, Report},
    sameness::{difference, id_of, same},
    writing::Cell,
};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Outcome {
    New,
    AlreadyThere,
    Refused,
}

/// A row that could be read, by its place in the file.
pub(super) type Parsed<V> = (usize, V);

/// What became of the rows so far.
pub(super) struct Run {
    outcomes: Vec<Outcome>,
    problems: Vec<Problem>,
}

impl Run {
    /// Of no row yet; each is refused until it is found to be right.
    pub(super) fn of(sheet: &Sheet) -> Self {
        Self { outcomes: vec![Outcome::Refused; sheet.rows.len()], problems: Vec::new() }
    }

    fn set(&mut self, place: usize, outcome: Outcome) {
        if let Some(known) = self.outcomes.get_mut(place) {
            *known = outcome;
        }
    }

    fn refuse(&mut self, sheet: &Sheet, place: usize, reason: &str) {
        self.set(place, Outcome::Refused);
        let line = sheet.rows.get(place).map_or(0, |row| row.line);
        self.problems.push(Problem::of_row(line, reason));
    }

    /// Reads every row; one without an id gets one that it will have in the same file again.
    pub(super) fn parse<R: Rows>(
        &mut self,
        known: &Known,
        sheet: &Sheet,
        (places, style): (&Places, &Style),
    ) -> Vec<Parsed<R::Value>> {
        let mut occurrences = BTreeMap::new();
        let mut parsed = Vec::with_capacity(sheet.rows.len());
        let has_id = R::COLUMNS.iter().any(|column| column.name == "id");
        for (place, row) in sheet.rows.iter().enumerate() {
            let mut cells = Cells::of(row, places, style);
            let id = cells.id("id");
            let value = R::parse(&mut cells, known, id.unwrap_or_default());
            let problems = cells.into_problems();
            match value.filter(|_| problems.is_empty()) {
                Some(mut value) => {
                    if has_id && id.is_none() {
                        let id = id_of::<R>(&value, known, &mut occurrences);
                        R::set_id(&mut value, id);
                    }
                    parsed.push((place, value));
                }
                None => self.problems.extend(problems),
            }
        }
        parsed
    }

    /// Leaves those rows that say something new.
    pub(super) fn compare<R: Rows>(
        &mut self,
        tx: &mut Tx<'_>,
        known: &Known,
        (sheet, places): (&Sheet, &Places),
        parsed: Vec<Parsed<R::Value>>,
    ) -> Result<Vec<Parsed<R::Value>>, StoreError> {
        let ids: BTreeSet<Uuid> = parsed.iter().map(|(_, value)| R::id(value)).collect();
        let asked: Vec<Uuid> = ids.iter().copied().collect();
        let on_record = R::on_record(tx, known, &asked)?;
        // A small file beside a large record: only what it names is put into cells.
        let named = on_record.iter().filter(|value| ids.contains(&R::id(value)));
        let mut present: BTreeMap<Uuid, Vec<Cell>> =
            named.map(|value| (R::id(value), R::cells(value, known))).collect();
        let telling = places.telling();
        let mut new = Vec::new();
        for (place, value) in parsed {
            let cells = R::cells(&value, known);
            match present.get(&R::id(&value)) {
                None => {
                    present.insert(R::id(&value), cells);
                    new.push((place, value));
                }
                Some(before) if same(before, &cells, &telling) => {
                    self.set(place, Outcome::AlreadyThere);
                }
                Some(_) if R::WRITES_ONCE => new.push((place, value)),
                Some(before) => {
                    let reason = difference(before, &cells, &telling, R::COLUMNS);
                    self.refuse(sheet, place, &reason);
                }
            }
        }
        Ok(new)
    }

    pub(super) fn write<R: Rows>(
        &mut self,
        tx: &mut Tx<'_>,
        known: &Known,
        sheet: &Sheet,
        new: Vec<Parsed<R::Value>>,
    ) -> Result<(), StoreError> {
        let (places, values): (Vec<usize>, Vec<R::Value>) = new.into_iter().unzip();
        let written = R::write(tx, known, &values)?;
        for (place, written) in places.into_iter().zip(written) {
            match written {
                Ok(true) => self.set(place, Outcome::New),
                Ok(false) => self.set(place, Outcome::AlreadyThere),
                Err(reason) => self.refuse(sheet, place, &reason),
            }
        }
        Ok(())
    }

    pub(super) fn told(
        mut self,
        asked: &Import<'_>,
        sheet: &Sheet,
        places: Option<&Places>,
        dates: Option<Dates>,
    ) -> Imported {
        self.problems.sort_by_key(|problem| problem.line);
        let count = |outcome| self.outcomes.iter().filter(|one| **one == outcome).count();
        let rows = Counts {
            read: self.outcomes.len(),
            new: count(Outcome::New),
            already_there: count(Outcome::AlreadyThere),
            refused: count(Outcome::Refused),
        };
        let refused = sheet.rows.iter().zip(&self.outcomes);
        let refused = refused.filter(|(_, outcome)| **outcome == Outcome::Refused);
        let refused = refused.map(|(row, _)| (row.clone(), self.why(row.line))).collect();
        let report = Report {
            table: asked.table.as_str(),
            written: !asked.dry_run && (asked.mode == Mode::Each || rows.refused == 0),
            encoding: sheet.charset.as_str(),
            delimiter: match sheet.delimiter {
                ';' => "semicolon",
                '\t' => "tab",
                _ => "comma",
            },
            decimal_mark: if sheet.delimiter == ',' { "point" } else { "comma or point" },
            dates: dates.map_or("iso", Dates::as_str),
            columns: places.map(Places::told).unwrap_or_default(),
            rows,
            problems_total: self.problems.len(),
            problems: self.problems.into_iter().take(MOST_PROBLEMS).collect(),
        };
        let header = places.map(|places| places.header().to_vec()).unwrap_or_default();
        Imported { report, header, refused }
    }

    /// What stands in the way of the row that begins in a line.
    fn why(&self, line: u64) -> String {
        let start = self.problems.partition_point(|problem| problem.line < line);
        let own = self.problems.iter().skip(start).take_while(|problem| problem.line == line);
        let words = own.map(|problem| match &problem.column {
            Some(column) => format!("{column}: {}", problem.reason),
            None => problem.reason.clone(),
        });
        words.collect::<Vec<_>>().join("; ")
    }
}
