//! What is told of a file that was to be imported: how it was read, and what stands in the way of what
//! row. It decides nothing.

use serde::Serialize;
use utoipa::ToSchema;

use crate::wording::{MOST_CHARS, cut};

/// The most problems that are told one by one.
pub const MOST_PROBLEMS: usize = 100;

/// What stands in the way of a row, or of the whole file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = ImportProblem)]
pub struct Problem {
    /// The line of the file, from 1.
    #[schema(example = 4712)]
    pub line: u64,
    /// The column, by the name that the file has for it; none where it is about the whole row.
    #[schema(example = "shots")]
    pub column: Option<String>,
    /// The place in the line, from 1, where the file cannot be read at all.
    #[schema(example = json!(null))]
    pub character: Option<u64>,
    /// What stands there.
    #[schema(example = "0")]
    pub value: String,
    /// Why, as a word that does not change.
    #[schema(example = "refused")]
    pub code: &'static str,
    /// Why, in words.
    #[schema(example = "must be at least 1")]
    pub reason: String,
}

impl Problem {
    /// About a cell.
    pub(super) fn of_cell(line: u64, column: &str, value: &str, reason: &str) -> Self {
        Self {
            line,
            column: Some(cut(column, MOST_CHARS)),
            character: None,
            value: cut(value, MOST_CHARS),
            code: "refused",
            reason: cut(reason, MOST_CHARS),
        }
    }

    /// About a row.
    pub(super) fn of_row(line: u64, reason: &str) -> Self {
        Self { column: None, ..Self::of_cell(line, "", "", reason) }
    }

    /// About a place in the text.
    pub(super) fn in_text(line: u64, character: u64, code: &'static str, reason: String) -> Self {
        Self { character: Some(character), code, reason, ..Self::of_row(line, "") }
    }

    /// About the names of the columns.
    pub(super) fn of_header(line: u64, column: &str, code: &'static str, reason: String) -> Self {
        Self { code, reason, ..Self::of_cell(line, column, "", "") }
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "line {}", self.line)?;
        if let Some(column) = &self.column {
            write!(f, ", {column}")?;
        }
        if let Some(character) = self.character {
            write!(f, ", character {character}")?;
        }
        if !self.value.is_empty() {
            write!(f, ": {:?}", self.value)?;
        }
        write!(f, ": {}", self.reason)
    }
}

/// A column of the file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = ImportColumn)]
pub struct ReadColumn {
    /// What the file calls it.
    #[schema(example = "Arrows")]
    pub header: String,
    /// As which column of the table it was read; none if it was left out.
    #[schema(example = "shots")]
    pub column: Option<&'static str>,
}

/// How many rows came to what.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = ImportCounts)]
pub struct Counts {
    /// In the file, without blank lines.
    #[schema(example = 5000)]
    pub read: usize,
    /// Not on record before.
    #[schema(example = 4998)]
    pub new: usize,
    /// On record already, in the same words.
    #[schema(example = 1)]
    pub already_there: usize,
    /// Cannot be taken; see the problems.
    #[schema(example = 1)]
    pub refused: usize,
}

/// How a file was read, and what became of its rows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = ImportReport)]
pub struct Report {
    /// Which table.
    #[schema(example = "shot_logs")]
    pub table: &'static str,
    /// Whether anything was written: not in a dry run, and not if a row was refused and all were to be
    /// taken.
    #[schema(example = false)]
    pub written: bool,
    /// `utf-8`, `utf-16le`, `utf-16be` or `windows-1252`.
    #[schema(example = "utf-8")]
    pub encoding: &'static str,
    /// `comma`, `semicolon` or `tab`.
    #[schema(example = "semicolon")]
    pub delimiter: &'static str,
    /// `point`, or `comma or point` where the delimiter is no comma.
    #[schema(example = "comma or point")]
    pub decimal_mark: &'static str,
    /// How days were written: `iso`, `day_first` or `month_first`.
    #[schema(example = "day_first")]
    pub dates: &'static str,
    /// Which column was read as which.
    pub columns: Vec<ReadColumn>,
    /// How many rows came to what.
    pub rows: Counts,
    /// All problems, of which at most 100 are listed.
    #[schema(example = 1)]
    pub problems_total: usize,
    /// The first of them, by line.
    pub problems: Vec<Problem>,
}
