//! From cells to the bytes of a file: RFC 4180, in UTF-8, with nothing in it that a spreadsheet would
//! take for a formula. And the way back for one cell.

use csv::{Terminator, WriterBuilder};

/// A cell that is to be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Cell {
    /// What somebody typed: it could be made to look like a formula.
    Text(String),
    /// A number, a time, an id or a word of the trade.
    Plain(String),
}

impl Cell {
    #[expect(clippy::needless_pass_by_value, reason = "callers write a value or a reference alike")]
    pub(super) fn text(text: impl ToString) -> Self {
        Self::Text(text.to_string())
    }

    #[expect(clippy::needless_pass_by_value, reason = "callers write a value or a reference alike")]
    pub(super) fn plain(value: impl ToString) -> Self {
        Self::Plain(value.to_string())
    }

    /// Nothing, where there is nothing.
    pub(super) fn plain_if(value: Option<impl ToString>) -> Self {
        Self::Plain(value.map(|value| value.to_string()).unwrap_or_default())
    }

    /// The same for a text.
    pub(super) fn text_if(text: Option<impl ToString>) -> Self {
        Self::Text(text.map(|text| text.to_string()).unwrap_or_default())
    }

    /// What it says.
    pub(super) fn value(&self) -> &str {
        match self {
            Self::Text(value) | Self::Plain(value) => value,
        }
    }

    fn written(&self) -> String {
        match self {
            Self::Text(text) => guarded(text),
            Self::Plain(value) => value.clone(),
        }
    }
}

/// What a spreadsheet takes for the start of a formula (OWASP, "CSV Injection", from memory), with the
/// forms of full width; and the quote by which it is told not to, so that one that was typed comes back.
const STARTS: [char; 12] =
    ['=', '+', '-', '@', '\t', '\r', '\n', '\u{FF1D}', '\u{FF0B}', '\u{FF0D}', '\u{FF20}', '\''];

/// A text as it stands in a file.
fn guarded(text: &str) -> String {
    if text.starts_with(STARTS) { format!("'{text}") } else { text.to_owned() }
}

/// A text as it was before it was written.
pub(super) fn unguarded(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(text) if text.starts_with(STARTS) => text,
        _ => cell,
    }
}

/// The bytes of a file with these columns and rows.
pub(super) fn file<'a>(
    names: impl IntoIterator<Item = &'a str>,
    rows: impl IntoIterator<Item = Vec<Cell>>,
    bom: bool,
) -> Result<Vec<u8>, csv::Error> {
    let start = if bom { "\u{FEFF}".as_bytes().to_vec() } else { Vec::new() };
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(start);
    writer.write_record(names)?;
    for row in rows {
        writer.write_record(row.iter().map(Cell::written))?;
    }
    writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::tables::reading::read;

    #[test]
    fn what_looks_like_a_formula_is_guarded_and_nothing_else_is() {
        for (text, expected) in [
            ("=1+1", "'=1+1"),
            ("+44", "'+44"),
            ("-3", "'-3"),
            ("@home", "'@home"),
            ("\tx", "'\tx"),
            ("\rx", "'\rx"),
            ("'=x", "''=x"),
            ("'tis", "''tis"),
            ("a=b", "a=b"),
            ("", ""),
        ] {
            assert_eq!(Cell::text(text).written(), expected);
            assert_eq!(unguarded(expected), text);
        }
        assert_eq!(Cell::plain(-3).written(), "-3");
        // What others wrote with an apostrophe of its own stays.
        assert_eq!(unguarded("'tis"), "'tis");
    }

    #[test]
    fn a_file_is_as_rfc_4180_has_it() {
        let rows = [
            vec![Cell::text("a,b"), Cell::text("say \"hi\"")],
            vec![Cell::text("one\ntwo"), Cell::plain(1)],
        ];
        let text = "x,y\r\n\"a,b\",\"say \"\"hi\"\"\"\r\n\"one\ntwo\",1\r\n";
        assert_eq!(file(["x", "y"], rows.clone(), false).unwrap(), text.as_bytes());
        let marked = file(["x", "y"], rows, true).unwrap();
        assert_eq!(marked, [b"\xEF\xBB\xBF", text.as_bytes()].concat());
    }

    proptest! {
        #[test]
        fn whatever_stands_in_a_cell_comes_back(
            rows in prop::collection::vec(
                (".{0,8}|[=+@'\"\t\r\n,; -]{0,6}", "[\\PC\r\n\t\",;=']{0,8}"), 0..6),
            bom: bool,
        ) {
            // A mark in the last column keeps rows from being blank.
            let cells = rows.iter().map(|(a, b)| vec![Cell::text(a), Cell::text(b), Cell::plain(1)]);
            let bytes = file(["name", "note", "n"], cells, bom).unwrap();
            let sheet = read(&bytes).unwrap();
            let back: Vec<(String, String)> = sheet.rows.iter().map(|row| {
                (unguarded(&row.cells[0]).to_owned(), unguarded(&row.cells[1]).to_owned())
            }).collect();
            prop_assert_eq!(back, rows);
        }

        #[test]
        fn another_reader_finds_the_same_cells(
            rows in prop::collection::vec(prop::collection::vec("[a-c\",\n ]{0,5}", 3), 0..5),
        ) {
            let cells = rows.iter().map(|row| row.iter().map(Cell::text).chain([Cell::plain(1)]).collect());
            let bytes = file(["a", "b", "c", "n"], cells, false).unwrap();
            let ours: Vec<Vec<String>> =
                read(&bytes).unwrap().rows.into_iter().map(|row| row.cells).collect();
            let theirs: Vec<Vec<String>> = csv::Reader::from_reader(&bytes[..])
                .into_records()
                .map(|record| record.unwrap().iter().map(str::to_owned).collect())
                .collect();
            prop_assert_eq!(ours, theirs);
        }
    }
}
