//! Runs one test on SQLite and on PostgreSQL, and says on which it failed.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};

use store::{
    DatabaseUrl,
    testing::{Fresh, both},
};

/// What the test came to on SQLite, then on PostgreSQL.
pub(crate) fn on_both<T>(test: impl Fn(&Fresh) -> T) -> [T; 2] {
    both().map(|database| {
        catch_unwind(AssertUnwindSafe(|| test(&database))).unwrap_or_else(|panic| {
            eprintln!("this failed on {}", name_of(&database));
            resume_unwind(panic)
        })
    })
}

/// What a database is called in a message.
pub(crate) fn name_of(database: &Fresh) -> &'static str {
    match database.url {
        DatabaseUrl::Sqlite(_) => "SQLite",
        DatabaseUrl::Postgres(_) => "PostgreSQL",
    }
}
