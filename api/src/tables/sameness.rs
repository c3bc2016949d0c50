//! Whether two rows are one: the id of a row that brings none, and what it says beside what is on record.
//! It reads and writes nothing.

use std::collections::BTreeMap;

use aws_lc_rs::digest;
use uuid::Uuid;

use super::{columns::Column, import::Rows, known::Known, writing::Cell};

/// Whether two rows say the same in the columns that tell.
pub(super) fn same(before: &[Cell], now: &[Cell], telling: &[bool]) -> bool {
    let mut cells = before.iter().zip(now).zip(telling);
    cells.all(|((before, now), telling)| !telling || before == now)
}

/// In what a row differs from the one on record under its id.
pub(super) fn difference(
    before: &[Cell],
    now: &[Cell],
    telling: &[bool],
    columns: &[Column],
) -> String {
    let cells = before.iter().zip(now).zip(telling.iter().zip(columns));
    let mut differing = cells.filter(|((before, now), (telling, _))| **telling && before != now);
    differing.next().map_or_else(String::new, |((before, now), (_, column))| {
        let (name, before, now) = (column.name, before.value(), now.value());
        format!("is there already, with {name} {before:?} instead of {now:?}")
    })
}

/// An id made from what a row says and how often the file said so before: a UUID of version 8 (RFC 9562,
/// section 5.8).
pub(super) fn id_of<R: Rows>(
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
