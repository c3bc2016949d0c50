//! Fresh databases for tests: one SQLite file and one PostgreSQL database each, gone afterwards.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on panics")]

use std::{
    path::PathBuf,
    process,
    sync::atomic::{AtomicU32, Ordering},
};

use diesel::{Connection, PgConnection, connection::SimpleConnection};

use crate::{
    DatabaseUrl, Store,
    conn::{Use, connect},
    migrate::{migrate, revert_all, revert_last},
};

/// Names the PostgreSQL server for tests; `tests/run` starts one and sets it.
const POSTGRES_URL: &str = "TAUTLINE_TEST_POSTGRES_URL";

static NUMBER: AtomicU32 = AtomicU32::new(0);

/// A database that is there for one test.
pub struct Fresh {
    /// Where it is.
    pub url: DatabaseUrl,
    /// What to remove when the test is over.
    remove: Remove,
}

enum Remove {
    Folder(PathBuf),
    Database { server: String, name: String },
}

/// An empty SQLite database and an empty PostgreSQL database.
///
/// # Panics
/// When there is no PostgreSQL to test on: a test that skips half of its work looks green.
#[must_use]
pub fn both() -> [Fresh; 2] {
    [sqlite(), postgres()]
}

/// An empty SQLite database in a folder of its own.
///
/// # Panics
/// When the folder cannot be made.
#[must_use]
pub fn sqlite() -> Fresh {
    let folder = std::env::temp_dir().join(fresh_name());
    std::fs::create_dir_all(&folder).unwrap();
    let url = DatabaseUrl::Sqlite(folder.join("club.db").display().to_string());
    Fresh { url, remove: Remove::Folder(folder) }
}

/// An empty PostgreSQL database on the server for tests.
///
/// # Panics
/// When there is no such server.
#[must_use]
pub fn postgres() -> Fresh {
    #[expect(clippy::disallowed_methods, reason = "a test's own setting, not the program's")]
    let server = std::env::var(POSTGRES_URL).unwrap_or_else(|_unset| {
        panic!("{POSTGRES_URL} is not set; run the tests with tests/run, which starts a server")
    });
    let name = fresh_name();
    let mut admin = PgConnection::establish(&server).unwrap();
    admin.batch_execute(&format!("CREATE DATABASE {name}")).unwrap();
    let (base, _database) = server.rsplit_once('/').unwrap();
    let url = DatabaseUrl::Postgres(format!("{base}/{name}"));
    Fresh { url, remove: Remove::Database { server, name } }
}

fn fresh_name() -> String {
    format!("tautline_test_{}_{}", process::id(), NUMBER.fetch_add(1, Ordering::Relaxed))
}

impl Fresh {
    /// Opens it as the program would.
    ///
    /// # Panics
    /// When it cannot be opened.
    #[must_use]
    pub fn open(&self) -> Store {
        Store::open(&self.url).unwrap()
    }

    /// Runs statements past every rule of the store, to plant what cannot come about otherwise.
    ///
    /// # Panics
    /// When a statement is refused.
    pub fn execute(&self, sql: &str) {
        connect(&self.url, Use::Writing).unwrap().batch_execute(sql).unwrap();
    }

    /// Takes every migration back and runs them again; says how many each time.
    ///
    /// # Panics
    /// When one fails.
    #[must_use]
    pub fn down_and_up(&self) -> (usize, usize) {
        let mut conn = connect(&self.url, Use::Writing).unwrap();
        (revert_all(&mut conn).unwrap(), migrate(&mut conn).unwrap())
    }

    /// Takes the last migration back and runs it again, as an upgrade does.
    ///
    /// # Panics
    /// When that fails.
    pub fn upgrade(&self) {
        let mut conn = connect(&self.url, Use::Writing).unwrap();
        revert_last(&mut conn).unwrap();
        assert_eq!(migrate(&mut conn).unwrap(), 1);
    }

    /// One text column of a query, in the order the query gives.
    ///
    /// # Panics
    /// When the query is refused.
    #[must_use]
    pub fn texts(&self, sql: &str) -> Vec<String> {
        use diesel::{QueryableByName, RunQueryDsl, sql_query, sql_types::Text};
        #[derive(QueryableByName)]
        struct One {
            #[diesel(sql_type = Text)]
            text: String,
        }
        let mut conn = connect(&self.url, Use::Writing).unwrap();
        let rows: Vec<One> = sql_query(sql).load(&mut conn).unwrap(); // unordered: as the test's query says
        rows.into_iter().map(|row| row.text).collect()
    }
}

impl Drop for Fresh {
    fn drop(&mut self) {
        match &self.remove {
            Remove::Folder(folder) => drop(std::fs::remove_dir_all(folder)),
            Remove::Database { server, name } => {
                if let Ok(mut admin) = PgConnection::establish(server) {
                    drop(admin.batch_execute(&format!("DROP DATABASE {name} WITH (FORCE)")));
                }
            }
        }
    }
}
