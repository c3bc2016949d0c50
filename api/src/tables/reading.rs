//! From the text of a file to its rows, as RFC 4180 has them and as spreadsheets write them: ended by
//! CR LF, LF or CR alone, parted by commas, semicolons or tabs. It knows no table.
//!
//! Written out here rather than left to a library, because every fault has to be named with its line and
//! its place there, whichever way lines end, and because a quote that is never closed must not be read as
//! one long cell.

#[cfg(test)]
mod tests;

use aws_lc_rs::digest;

use super::{
    Refusal,
    encoding::{Charset, text_of},
    report::Problem,
};

/// The most bytes of a file.
pub const MOST_BYTES: usize = 10 * 1024 * 1024;
/// The most rows of a file.
pub const MOST_ROWS: usize = 100_000;

/// A file as it was read, before anything in it was understood.
#[derive(Debug)]
pub struct Sheet {
    /// The SHA-256 of the file in hexadecimal digits, by which it is known again.
    pub(super) sha256: String,
    pub(super) charset: Charset,
    pub(super) delimiter: char,
    /// The names of its columns; none if it is empty.
    pub(super) header: Option<Row>,
    /// What stands below, without blank lines.
    pub(super) rows: Vec<Row>,
}

/// A row of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Row {
    /// The line that it begins in, from 1.
    pub(super) line: u64,
    pub(super) cells: Vec<String>,
}

impl Row {
    fn is_blank(&self) -> bool {
        self.cells.iter().all(|cell| cell.trim().is_empty())
    }
}

/// Reads a file.
///
/// # Errors
/// A [`Refusal`]: too large, not a CSV file at all, or the place where it cannot be read.
pub fn read(bytes: &[u8]) -> Result<Sheet, Refusal> {
    if bytes.len() > MOST_BYTES {
        return Err(Refusal::TooLarge(format!("a file may have at most {MOST_BYTES} bytes")));
    }
    if let Some(advice) = not_csv(bytes) {
        return Err(Refusal::NotCsv(advice));
    }
    let (text, charset) = text_of(bytes).map_err(Refusal::one)?;
    if is_html(&text) {
        return Err(Refusal::NotCsv(HTML));
    }
    let (text, from, named) = without_hint(&text);
    let delimiter = named.unwrap_or_else(|| sniffed(text));
    let mut rows = Scanner { delimiter, line: from, character: 0 }.rows(text)?.into_iter();
    let header = rows.next();
    Ok(Sheet { sha256: sha256(bytes), charset, delimiter, header, rows: rows.collect() })
}

fn sha256(bytes: &[u8]) -> String {
    let hash = digest::digest(&digest::SHA256, bytes);
    let digits = hash.as_ref().iter().flat_map(|byte| [byte >> 4, byte & 15]);
    digits.filter_map(|digit| char::from_digit(u32::from(digit), 16)).collect()
}

/// What else people send under the name of a CSV file, by what it begins with.
fn not_csv(bytes: &[u8]) -> Option<&'static str> {
    match bytes {
        // PKWARE's APPNOTE, section 4.3.7: every spreadsheet in XML is a zip file.
        [b'P', b'K', 3, 4, ..] => {
            Some("this is a workbook of a spreadsheet program; save its sheet as CSV and send that")
        }
        // The signature of a compound file ([MS-CFB], section 2.2).
        [0xD0, 0xCF, 0x11, 0xE0, ..] => Some(
            "this is an old workbook of a spreadsheet program; save its sheet as CSV and send that",
        ),
        [b'%', b'P', b'D', b'F', ..] => Some("this is a PDF file; export the table as CSV"),
        _ => None,
    }
}

const HTML: &str = "this is a web page or XML, not CSV; look at what was downloaded, and export the table \
                    as CSV";

fn is_html(text: &str) -> bool {
    let start: String = text.trim_start().chars().take(9).collect::<String>().to_ascii_lowercase();
    ["<!doctype", "<html", "<table", "<?xml", "<head", "<body"]
        .iter()
        .any(|tag| start.starts_with(tag))
}

/// What follows a first line such as `sep=;`, by which a spreadsheet names the delimiter; the line it
/// stands in, and the delimiter.
fn without_hint(text: &str) -> (&str, u64, Option<char>) {
    let hint = text.strip_prefix("sep=").and_then(|rest| {
        let mut chars = rest.chars();
        let named = chars.next().filter(|c| DELIMITERS.contains(c))?;
        let rest = chars.as_str();
        let rest = rest.strip_prefix("\r\n").or_else(|| rest.strip_prefix(['\n', '\r']))?;
        Some((rest, 2, Some(named)))
    });
    hint.unwrap_or((text, 1, None))
}

const DELIMITERS: [char; 3] = [',', ';', '\t'];

/// The delimiter that the first line with anything in it has most of, outside of quotes.
fn sniffed(text: &str) -> char {
    let first = text.split(['\n', '\r']).find(|line| !line.trim().is_empty()).unwrap_or_default();
    let mut quoted = false;
    let mut counts = [0_usize; 3];
    for c in first.chars() {
        quoted ^= c == '"';
        for (count, delimiter) in counts.iter_mut().zip(DELIMITERS) {
            *count += usize::from(!quoted && c == delimiter);
        }
    }
    let most = counts.iter().copied().max().unwrap_or_default();
    let of_most = DELIMITERS.into_iter().zip(counts).find(|(_, count)| *count == most);
    of_most.map_or(',', |(delimiter, _)| delimiter)
}

/// In which line a text ends, from 1, however its lines end.
pub(super) fn lines(text: &str) -> u64 {
    let ends = text.replace("\r\n", "\n").matches(['\n', '\r']).count();
    u64::try_from(ends).unwrap_or(u64::MAX).saturating_add(1)
}

/// Where in the file the reader is.
struct Scanner {
    delimiter: char,
    line: u64,
    character: u64,
}

/// What ended a cell.
#[derive(PartialEq, Eq)]
enum End {
    Cell,
    Row,
    File,
}

type Chars<'a> = std::iter::Peekable<std::str::Chars<'a>>;

impl Scanner {
    /// The rows that are not blank.
    fn rows(mut self, text: &str) -> Result<Vec<Row>, Refusal> {
        let mut chars = text.chars().peekable();
        let mut rows = Vec::new();
        while chars.peek().is_some() {
            let mut row = Row { line: self.line, cells: Vec::new() };
            loop {
                let (cell, end) = self.cell(&mut chars).map_err(Refusal::one)?;
                row.cells.push(cell);
                if end != End::Cell {
                    break;
                }
            }
            if row.is_blank() {
                continue;
            }
            // One more for the names of the columns.
            if rows.len() > MOST_ROWS {
                return Err(Refusal::TooLarge(format!("a file may have at most {MOST_ROWS} rows")));
            }
            rows.push(row);
        }
        Ok(rows)
    }

    fn cell(&mut self, chars: &mut Chars<'_>) -> Result<(String, End), Problem> {
        if chars.peek() == Some(&'"') {
            return self.quoted(chars);
        }
        let mut cell = String::new();
        loop {
            match self.next(chars) {
                None => return Ok((cell, End::File)),
                Some('\n') => return Ok((cell, End::Row)),
                Some(c) if c == self.delimiter => return Ok((cell, End::Cell)),
                // A quote inside of a cell is one: 68" is a length.
                Some(c) => cell.push(c),
            }
        }
    }

    fn quoted(&mut self, chars: &mut Chars<'_>) -> Result<(String, End), Problem> {
        self.next(chars);
        let (line, character) = (self.line, self.character);
        let mut cell = String::new();
        loop {
            match chars.next() {
                None => {
                    let reason = "the quote that begins here is never closed".to_owned();
                    return Err(Problem::in_text(line, character, "unclosed_quote", reason));
                }
                Some('"') if chars.peek() == Some(&'"') => {
                    chars.next();
                    self.character += 2;
                    cell.push('"');
                }
                Some('"') => {
                    self.character += 1;
                    return self.after_quote(chars).map(|end| (cell, end));
                }
                Some(c) => {
                    self.pass(c, chars.peek().copied());
                    cell.push(c);
                }
            }
        }
    }

    /// What comes after a closing quote: nothing but what ends the cell.
    fn after_quote(&mut self, chars: &mut Chars<'_>) -> Result<End, Problem> {
        match self.next(chars) {
            None => Ok(End::File),
            Some('\n') => Ok(End::Row),
            Some(c) if c == self.delimiter => Ok(End::Cell),
            Some(c) => {
                let reason = format!(
                    "{c:?} follows a closing quote; a quote inside of a quoted cell is written twice"
                );
                Err(Problem::in_text(self.line, self.character, "text_after_quote", reason))
            }
        }
    }

    /// The next character outside of quotes; whatever ends a line is one `\n`.
    fn next(&mut self, chars: &mut Chars<'_>) -> Option<char> {
        let c = chars.next()?;
        if c == '\r' {
            chars.next_if_eq(&'\n');
            self.pass('\n', None);
            return Some('\n');
        }
        self.pass(c, None);
        Some(c)
    }

    /// Counts a character; `ahead` is the one after it, where both of CR LF are still to be passed.
    fn pass(&mut self, c: char, ahead: Option<char>) {
        if c == '\n' || (c == '\r' && ahead != Some('\n')) {
            self.line += 1;
            self.character = 0;
        } else {
            self.character += 1;
        }
    }
}
