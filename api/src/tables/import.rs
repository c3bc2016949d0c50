//! A file into its table: every row is read, compared with what is on record, and written if it is new.
//! What stands in the way of one row never keeps the others from being looked at.

use domain::audit::{Change, Subject};
use jiff::Timestamp;
use serde_json::json;
use store::{Read, StoreError, Tx, fresh_id};
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
    report::Report,
    run::Run,
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
    pub(super) header: Vec<String>,
    pub(super) refused: Vec<(Row, String)>,
}

/// Imports a file in a transaction, which is to be given up unless the report says that it was written;
/// if it was, a record of the change says so. The club is held first, so that the same file sent twice
/// at once is compared with what the other one wrote.
///
/// # Errors
/// A [`Refusal`] of the file as a whole. What stands in the way of its rows is in the report.
pub fn import(
    tx: &mut Tx<'_>,
    actor: Actor,
    asked: &Import<'_>,
    now: Timestamp,
) -> Result<Imported, Refusal> {
    store::clubs::hold_alone(tx, actor.club)?;
    let known = Known::of(tx, actor, now)?;
    let imported = match asked.table {
        Table::People => run::<People>(tx, &known, asked),
        Table::Bows => run::<Bows>(tx, &known, asked),
        Table::Parts => run::<Parts>(tx, &known, asked),
        Table::Fittings => run::<Fittings>(tx, &known, asked),
        Table::Upkeep => run::<Upkeeps>(tx, &known, asked),
        Table::Incidents => run::<Incidents>(tx, &known, asked),
        Table::ShotLogs => run::<ShotLogs>(tx, &known, asked),
    }?;
    if imported.report.written {
        record(tx, &known, asked, imported.report.rows.new)?;
    }
    Ok(imported)
}

/// Puts on record that a file was brought in: which one, and how much of it was new. What stands in it
/// is on record itself.
fn record(
    tx: &mut Tx<'_>,
    known: &Known,
    asked: &Import<'_>,
    rows_new: usize,
) -> Result<(), StoreError> {
    let after = json!({
        "table": asked.table.as_str(),
        "rows_new": rows_new,
        "sha256": asked.sheet.sha256,
    });
    let change = Change {
        id: fresh_id(known.now),
        at: known.now,
        by: known.actor.signs,
        operation: "import_table".to_owned(),
        subject: Subject::Club,
        subject_id: known.club.id.0,
        bow: None,
        before: None,
        after: Some(after.to_string()),
    };
    store::audit::record(tx, known.club.id, &change)
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

fn run<R: Rows>(tx: &mut Tx<'_>, known: &Known, asked: &Import<'_>) -> Result<Imported, Refusal> {
    let sheet = asked.sheet;
    let Some(header) = &sheet.header else {
        return Ok(Run::of(sheet).told(asked, sheet, None, None));
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
    let mut run = Run::of(sheet);
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
