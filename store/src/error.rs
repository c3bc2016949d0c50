//! What can go wrong with a database, in terms a caller can act on. No HTTP status in here.

use diesel::result::{DatabaseErrorKind, Error as DieselError};
use uuid::Uuid;

/// Why a read or write failed.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// There is no such row in this club.
    #[error("no such {what}")]
    NotFound {
        /// What was looked for, in the words of the trade.
        what: &'static str,
    },
    /// It was changed by somebody else since it was read.
    #[error("it was changed meanwhile")]
    Changed,
    /// Something that is on record refers to it.
    #[error("something on record refers to the {what}")]
    InUse {
        /// What was to go, in the words of the trade.
        what: &'static str,
    },
    /// More is waiting to be written than can be worked off in good time; try again later.
    #[error("too much is waiting to be written")]
    Busy,
    /// The database is away, locked, full or read-only; try again later.
    #[error("the database cannot be used now: {0}")]
    Unavailable(String),
    /// A row breaks a rule of the domain: somebody changed the database by hand, or we have a bug.
    #[error("{table}.{column} of {id} holds what cannot be: {found}")]
    Inconsistent {
        /// In which table.
        table: &'static str,
        /// In which column.
        column: &'static str,
        /// In which row.
        id: Uuid,
        /// What stands there.
        found: String,
    },
    /// A statement failed, or the closure that ran it panicked.
    #[error("the database refused: {0}")]
    Database(String),
}

/// Passes a change of exactly one row that was still as it had been read.
pub(crate) fn changed_once(rows: usize) -> Result<(), StoreError> {
    if rows == 1 { Ok(()) } else { Err(StoreError::Changed) }
}

impl From<DieselError> for StoreError {
    fn from(error: DieselError) -> Self {
        let text = error.to_string();
        let lost = matches!(
            &error,
            DieselError::DatabaseError(
                DatabaseErrorKind::ClosedConnection
                    | DatabaseErrorKind::UnableToSendCommand
                    | DatabaseErrorKind::SerializationFailure
                    | DatabaseErrorKind::ReadOnlyTransaction,
                _
            ) | DieselError::BrokenTransactionManager
        );
        if lost || TRANSIENT.iter().any(|words| text.contains(words)) {
            Self::Unavailable(text)
        } else {
            Self::Database(text)
        }
    }
}

/// What SQLite and PostgreSQL say when the fault is not in the statement. Diesel has no kind for
/// these, so their words have to do.
const TRANSIENT: [&str; 10] = [
    "database is locked",
    "database or disk is full",
    "disk I/O error",
    "attempt to write a readonly database",
    "unable to open database file",
    "deadlock detected",
    "due to lock timeout",
    "terminating connection",
    "the database system is",
    "server closed the connection",
];
