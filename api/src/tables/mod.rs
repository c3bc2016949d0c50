//! A club's record as CSV files, a file for each table: out of the database, and back into it through the
//! same functions by which everything else gets there. It knows no HTTP; the command line uses it too.

mod bows;
mod cells;
mod columns;
mod dates;
mod encoding;
mod export;
mod fittings;
mod import;
mod incidents;
mod known;
mod parts;
mod people;
mod reading;
mod report;
mod run;
mod sameness;
mod shot_logs;
mod upkeep;
mod writing;

use domain::{
    fittings::FittingError,
    ids::{ClubId, MemberId},
    members::Role,
    parts::PartError,
};
use store::StoreError;

pub use dates::Dates;
pub use export::export;
pub use import::{Import, Imported, Mode, bad_rows, import};
pub use reading::{MOST_BYTES, MOST_ROWS, Sheet, read};
pub use report::{Counts, MOST_PROBLEMS, Problem, ReadColumn, Report};

/// A table that goes out as a file and comes back from one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// Everybody who is or was in the club, without what they sign in with.
    People,
    /// Bows.
    Bows,
    /// Parts.
    Parts,
    /// What was fitted to what, from when until when.
    Fittings,
    /// Work done on parts.
    Upkeep,
    /// What happened to bows.
    Incidents,
    /// The ledger as it stands after its corrections.
    ShotLogs,
}

impl Table {
    /// All of them, each after those that it refers to: the order in which a record is brought in.
    pub const ALL: [Self; 7] = [
        Self::People,
        Self::Bows,
        Self::Parts,
        Self::Fittings,
        Self::Upkeep,
        Self::Incidents,
        Self::ShotLogs,
    ];

    /// How it is called.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::People => "members",
            Self::Bows => "bows",
            Self::Parts => "parts",
            Self::Fittings => "fittings",
            Self::Upkeep => "upkeep",
            Self::Incidents => "incidents",
            Self::ShotLogs => "shot_logs",
        }
    }

    /// The table that is called so.
    #[must_use]
    pub fn parse(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|table| table.as_str() == name)
    }

    /// Whether it is for owners of the club alone; the ledger is for everybody within their reach.
    #[must_use]
    pub const fn is_for_owners(self) -> bool {
        !matches!(self, Self::ShotLogs)
    }
}

impl std::fmt::Display for Table {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.as_str())
    }
}

/// For whom a file is made or read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Actor {
    /// Of which club.
    pub club: ClubId,
    /// Who.
    pub member: MemberId,
    /// What they may do.
    pub role: Role,
    /// Under whose name an import is put on record; nobody's, where whoever runs the program does it for
    /// them.
    pub signs: Option<MemberId>,
}

/// Why a file was not imported at all.
#[derive(Debug)]
pub enum Refusal {
    /// More bytes or rows than a file may have.
    TooLarge(String),
    /// Something else under the name of a CSV file; what to do.
    NotCsv(&'static str),
    /// It cannot be read, or not with certainty.
    Unreadable(Vec<Problem>),
    /// The database.
    Store(StoreError),
}

impl Refusal {
    fn one(problem: Problem) -> Self {
        Self::Unreadable(vec![problem])
    }
}

impl From<StoreError> for Refusal {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

impl std::fmt::Display for Refusal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::TooLarge(detail) => f.write_str(detail),
            Self::NotCsv(advice) => f.write_str(advice),
            Self::Unreadable(problems) => {
                let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
                f.write_str(&told.join("\n"))
            }
            Self::Store(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for Refusal {}

/// Why a row was not written: the row's own fault, or the database's.
enum NotWritten {
    Row(String),
    Store(StoreError),
}

impl From<StoreError> for NotWritten {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::NotFound { what } => Self::Row(format!("no such {what} in your club")),
            other => Self::Store(other),
        }
    }
}

impl From<FittingError> for NotWritten {
    fn from(error: FittingError) -> Self {
        Self::Row(error.to_string())
    }
}

impl From<PartError> for NotWritten {
    fn from(error: PartError) -> Self {
        Self::Row(error.to_string())
    }
}

/// What became of a row: new, on record before, or why not.
type Written = Result<bool, String>;

impl NotWritten {
    /// What became of a row that was to be written, as long as the database is not to blame.
    fn of(written: Result<(), Self>) -> Result<Written, StoreError> {
        match written {
            Ok(()) => Ok(Ok(true)),
            Err(Self::Row(reason)) => Ok(Err(reason)),
            Err(Self::Store(error)) => Err(error),
        }
    }
}
