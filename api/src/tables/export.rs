//! A table as a file.

use jiff::Timestamp;
use store::{Read, StoreError};

use super::{
    Actor, Table, bows::Bows, fittings::Fittings, import::Rows, incidents::Incidents, known::Known,
    parts::Parts, people::People, shot_logs::ShotLogs, upkeep::Upkeeps, writing::file,
};

/// The bytes of a table's file, with a byte order mark if spreadsheets are to see that it is UTF-8. Its
/// rows stand in the order of their ids, people in that of their addresses; of the ledger only what is
/// within reach.
///
/// # Errors
/// The database.
pub fn export(
    read: &mut Read<'_>,
    actor: Actor,
    table: Table,
    bom: bool,
    now: Timestamp,
) -> Result<Vec<u8>, StoreError> {
    let known = Known::of(read, actor, now)?;
    match table {
        Table::People => all::<People>(read, &known, bom),
        Table::Bows => all::<Bows>(read, &known, bom),
        Table::Parts => all::<Parts>(read, &known, bom),
        Table::Fittings => all::<Fittings>(read, &known, bom),
        Table::Upkeep => all::<Upkeeps>(read, &known, bom),
        Table::Incidents => all::<Incidents>(read, &known, bom),
        Table::ShotLogs => all::<ShotLogs>(read, &known, bom),
    }
}

fn all<R: Rows>(read: &mut Read<'_>, known: &Known, bom: bool) -> Result<Vec<u8>, StoreError> {
    let rows = R::all(read, known)?;
    let cells = rows.iter().map(|value| R::cells(value, known));
    let written = file(R::COLUMNS.iter().map(|column| column.name), cells, bom);
    // Into memory it can always be written.
    written.map_err(|error| StoreError::Database(error.to_string()))
}
