//! A file into its table: every row is read, compared with what is on record, and written if it is new.
//! What stands in the way of one row never keeps the others from being looked at.

use std::collections::BTreeMap;

use aws_lc_rs::digest;
use jiff::Timestamp;
use store::{Read, StoreError, Tx};
use uuid::Uuid;

use super::{
    Actor, Refusal, Table, Written,
    bows::Bows,
    cells::{Cells, Style},
    columns::{Column, Places},
    dates::Dates,
    fittings::Fittings,
    incidents::Incidents,
    known::Known,
    parts::Parts,
    people::People,
    reading::{Row, Sheet},
    report::{Counts, MOST_PROBLEMS, Problem, Report},
    shot_logs::ShotLogs,
    upkeep::Upkeeps,
    writing::{Cell, file},
};

/// What to do when a row cannot be taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// Write nothing.
    All,
    /// Write the others.
    Each,
}

impl Mode {
    /// Both.
    pub const BOTH: [Self; 2] = [Self::All, Self::Each];

    /// How it is called.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::All => "all",
            Self::Each => "each",
        }
    }

    /// The one that is called so.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::BOTH.into_iter().find(|mode| mode.as_str() == word)
    }
}

impl std::fmt::Display for Mode {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.as_str())
    }
}

/// A file that is to be imported, and how.
#[derive(Debug, Clone, Copy)]
pub struct Import<'a> {
    /// Into which table.
    pub table: Table,
    /// What stands in it.
    pub sheet: &'a Sheet,
    /// How its days are written, where that does not show.
    pub dates: Option<Dates>,
    /// What to do when a row cannot be taken.
    pub mode: Mode,
    /// Only say what would be done.
    pub dry_run: bool,
}

/// The rows of a table, between cells and the domain.
pub(super) trait Rows {
    type Value;

    /// Its columns, in the order in which they are written. One called `id` holds the id of the row.
    const COLUMNS: &'static [Column];

    /// Whether [`Rows::write`] can tell what was on record before from what was not.
    const WRITES_ONCE: bool = false;

    /// All that is on record, in the order in which it is written.
    fn all(read: &mut Read<'_>, known: &Known) -> Result<Vec<Self::Value>, StoreError>;

    /// What is on record under these ids, and maybe more.
    fn on_record(
        read: &mut Read<'_>,
        known: &Known,
        _ids: &[Uuid],
    ) -> Result<Vec<Self::Value>, StoreError> {
        Self::all(read, known)
    }

    fn id(value: &Self::Value) -> Uuid;

    fn set_id(value: &mut Self::Value, id: Uuid);

    fn cells(value: &Self::Value, known: &Known) -> Vec<Cell>;

    /// A row, if every cell of it can be taken.
    fn parse(cells: &mut Cells<'_>, known: &Known, id: Uuid) -> Option<Self::Value>;

    /// Writes rows, and says of each what became of it.
    fn write(
        tx: &mut Tx<'_>,
        known: &Known,
        values: &[Self::Value],
    ) -> Result<Vec<Written>, StoreError>;
}

/// What became of a file.
#[derive(Debug)]
pub struct Imported {
    /// What is told of it. The transaction is to be given up unless it says that it was written.
    pub report: Report,
    header: Vec<String>,
    refused: Vec<(Row, String)>,
}

/// Imports a file in a transaction, which is to be given up unless the report says that it was written.
///
/// # Errors
/// A [`Refusal`] of the file as a whole. What stands in the way of its rows is in the report.
pub fn import(
    tx: &mut Tx<'_>,
    actor: Actor,
    asked: &Import<'_>,
    now: Timestamp,
) -> Result<Imported, Refusal> {
    let sheet = asked.sheet;
    let known = Known::of(tx, actor, now)?;
    match asked.table {
        Table::People => run::<People>(tx, &known, asked, sheet),
        Table::Bows => run::<Bows>(tx, &known, asked, sheet),
        Table::Parts => run::<Parts>(tx, &known, asked, sheet),
        Table::Fittings => run::<Fittings>(tx, &known, asked, sheet),
        Table::Upkeep => run::<Upkeeps>(tx, &known, asked, sheet),
        Table::Incidents => run::<Incidents>(tx, &known, asked, sheet),
        Table::ShotLogs => run::<ShotLogs>(tx, &known, asked, sheet),
    }
}

/// The rows that were refused, as they stood in the file, each with why: to be put right and sent again.
///
/// # Errors
/// The writer's, which does not fail in memory.
pub fn bad_rows(imported: &Imported) -> Result<Vec<u8>, csv::Error> {
    let names = imported.header.iter().map(String::as_str).chain(["line", "reason"]);
    let width = imported.header.len();
    let rows = imported.refused.iter().map(|(row, reason)| {
        let blank = std::iter::repeat(String::new());
        // As it stood there, guarded or not.
        let cells = row.cells.iter().cloned().chain(blank).take(width).map(Cell::Plain);
        cells.chain([Cell::plain(row.line), Cell::text(reason)]).collect()
    });
    file(names, rows, true)
}

/// How many rows are handed to the database at once.
const AT_ONCE: usize = 1_000;

fn run<R: Rows>(
    tx: &mut Tx<'_>,
    known: &Known,
    asked: &Import<'_>,
    sheet: &Sheet,
) -> Result<Imported, Refusal> {
    let Some(header) = &sheet.header else {
        let run = Run { outcomes: Vec::new(), problems: Vec::new() };
        return Ok(run.told(asked, sheet, None, None));
    };
    let places = Places::of(header, R::COLUMNS).map_err(Refusal::Unreadable)?;
    let dates = match asked.dates {
        Some(named) => Some(named),
        None => shown_dates(sheet, &places)?,
    };
    let style = Style {
        decimal_comma: sheet.delimiter != ',',
        dates,
        zone: known.club.zone.clone(),
        now: known.now,
    };
    let mut run = Run { outcomes: vec![Outcome::Refused; sheet.rows.len()], problems: Vec::new() };
    let parsed = run.parse::<R>(known, sheet, (&places, &style));
    let new = run.compare::<R>(tx, known, (sheet, &places), parsed)?;
    run.write::<R>(tx, known, sheet, new)?;
    Ok(run.told(asked, sheet, Some(&places), dates))
}

/// Which order the days of a file show.
fn shown_dates(sheet: &Sheet, places: &Places) -> Result<Option<Dates>, Refusal> {
    let mut cells = Vec::new();
    for place in places.dated() {
        let name = places.header().get(place).map_or("", String::as_str);
        let column = sheet.rows.iter().filter_map(|row| Some((row.line, row.cells.get(place)?)));
        cells.extend(column.map(|(line, cell)| (line, name, cell.trim())));
    }
    cells.sort_by_key(|(line, _, _)| *line);
    Dates::of_file(cells.into_iter()).map_err(Refusal::one)
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Outcome {
    New,
    AlreadyThere,
    Refused,
}

/// A row that could be read, by its place in the file.
type Parsed<V> = (usize, V);

/// What became of the rows so far.
struct Run {
    outcomes: Vec<Outcome>,
    problems: Vec<Problem>,
}

impl Run {
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
    fn parse<R: Rows>(
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
    fn compare<R: Rows>(
        &mut self,
        tx: &mut Tx<'_>,
        known: &Known,
        (sheet, places): (&Sheet, &Places),
        parsed: Vec<Parsed<R::Value>>,
    ) -> Result<Vec<Parsed<R::Value>>, StoreError> {
        let ids: Vec<Uuid> = parsed.iter().map(|(_, value)| R::id(value)).collect();
        let on_record = R::on_record(tx, known, &ids)?;
        let mut present: BTreeMap<Uuid, Vec<Cell>> =
            on_record.iter().map(|value| (R::id(value), R::cells(value, known))).collect();
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

    fn write<R: Rows>(
        &mut self,
        tx: &mut Tx<'_>,
        known: &Known,
        sheet: &Sheet,
        new: Vec<Parsed<R::Value>>,
    ) -> Result<(), StoreError> {
        let (places, values): (Vec<usize>, Vec<R::Value>) = new.into_iter().unzip();
        for (places, values) in places.chunks(AT_ONCE).zip(values.chunks(AT_ONCE)) {
            let written = R::write(tx, known, values)?;
            for (place, written) in places.iter().zip(written) {
                match written {
                    Ok(true) => self.set(*place, Outcome::New),
                    Ok(false) => self.set(*place, Outcome::AlreadyThere),
                    Err(reason) => self.refuse(sheet, *place, &reason),
                }
            }
        }
        Ok(())
    }

    fn told(
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

/// Whether two rows say the same in the columns that tell.
fn same(before: &[Cell], now: &[Cell], telling: &[bool]) -> bool {
    let mut cells = before.iter().zip(now).zip(telling);
    cells.all(|((before, now), telling)| !telling || before == now)
}

/// In what a row differs from the one on record under its id.
fn difference(before: &[Cell], now: &[Cell], telling: &[bool], columns: &[Column]) -> String {
    let cells = before.iter().zip(now).zip(telling.iter().zip(columns));
    let mut differing = cells.filter(|((before, now), (telling, _))| **telling && before != now);
    differing.next().map_or_else(String::new, |((before, now), (_, column))| {
        let (name, before, now) = (column.name, before.value(), now.value());
        format!("is there already, with {name} {before:?} instead of {now:?}")
    })
}

/// An id made from what a row says and how often the file said so before: a UUID of version 8 (RFC 9562,
/// section 5.8).
fn id_of<R: Rows>(
    value: &R::Value,
    known: &Known,
    occurrences: &mut BTreeMap<Vec<u8>, u64>,
) -> Uuid {
    let mut said = digest::Context::new(&digest::SHA256);
    said.update(known.club.id.0.as_bytes());
    for (cell, column) in R::cells(value, known).iter().zip(R::COLUMNS) {
        if !column.aside && column.name != "id" {
            said.update(column.name.as_bytes());
            said.update(&cell.value().len().to_be_bytes());
            said.update(cell.value().as_bytes());
        }
    }
    let said = said.finish();
    let occurrence = occurrences.entry(said.as_ref().to_vec()).or_default();
    let mut one = digest::Context::new(&digest::SHA256);
    one.update(said.as_ref());
    one.update(&occurrence.to_be_bytes());
    *occurrence += 1;
    of_hash(one.finish().as_ref())
}

/// A UUID of version 8 from the beginning of a hash.
pub(super) fn of_hash(hash: &[u8]) -> Uuid {
    let mut bytes = [0_u8; 16];
    bytes.iter_mut().zip(hash).for_each(|(byte, of_hash)| *byte = *of_hash);
    uuid::Builder::from_custom_bytes(bytes).into_uuid()
}
