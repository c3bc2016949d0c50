//! Bringing a database to the schema this program knows, and refusing one that is ahead of it.

use diesel::{RunQueryDsl, SqliteConnection, connection::SimpleConnection};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use crate::{
    StoreError, Tx, bow_days,
    conn::{Conn, within},
    stops, wear,
};

const SQLITE: EmbeddedMigrations = embed_migrations!("../migrations/sqlite");
const POSTGRES: EmbeddedMigrations = embed_migrations!("../migrations/postgres");

type Boxed = Box<dyn std::error::Error + Send + Sync>;

/// Why a database could not be brought up to date.
#[derive(Debug, thiserror::Error)]
pub enum MigrateError {
    /// A later release has been at it.
    #[error(
        "the database has schema {version}, which this program does not know: it was written by a \
         later release. Run that release, or restore a backup made before the upgrade"
    )]
    Newer {
        /// The version that is not known.
        version: String,
    },
    /// The database itself refused.
    #[error("cannot read or change the schema: {0}")]
    Database(#[from] diesel::result::Error),
    /// A migration failed; nothing of it was kept.
    #[error("a migration failed and was taken back: {0}")]
    Migration(Boxed),
    /// What is derived could not be brought in line with the new schema.
    #[error(transparent)]
    Derived(#[from] StoreError),
}

/// Runs what is pending, all of it or nothing, and says how many migrations that were. Several
/// processes may do so at once: the first one does the work, the others wait for it.
pub(crate) fn migrate(conn: &mut Conn) -> Result<usize, MigrateError> {
    let begin = match conn {
        Conn::Pg(_) => "BEGIN",
        Conn::Sqlite(_) => "BEGIN EXCLUSIVE",
    };
    without_foreign_keys(conn, |conn| {
        within(conn, begin, |conn| {
            let run = match conn {
                Conn::Pg(pg) => {
                    diesel::sql_query("SELECT pg_advisory_xact_lock(7461757)").execute(pg)?;
                    pending(pg, POSTGRES)?
                }
                Conn::Sqlite(sqlite) => {
                    let run = pending(sqlite, SQLITE)?;
                    check_foreign_keys(sqlite)?;
                    run
                }
            };
            if run > 0 {
                let mut tx = Tx::new(conn);
                wear::complete(&mut tx)?;
                stops::complete(&mut tx)?;
                bow_days::complete(&mut tx)?;
            }
            Ok(run)
        })
    })
}

/// A table that is written anew is gone for a moment, and what refers to it would be in the way.
/// SQLite switches foreign keys only outside of a transaction.
fn without_foreign_keys<T>(
    conn: &mut Conn,
    run: impl FnOnce(&mut Conn) -> Result<T, MigrateError>,
) -> Result<T, MigrateError> {
    let switch = |conn: &mut Conn, to: &str| match conn {
        Conn::Pg(_) => Ok(()),
        Conn::Sqlite(sqlite) => sqlite.batch_execute(&format!("PRAGMA foreign_keys = {to}")),
    };
    switch(conn, "OFF")?;
    let outcome = run(conn);
    switch(conn, "ON")?;
    outcome
}

/// Refuses a schema in which a row refers to one that is not there.
fn check_foreign_keys(sqlite: &mut SqliteConnection) -> Result<(), MigrateError> {
    let broken = diesel::dsl::sql::<diesel::sql_types::Bool>(
        "EXISTS (SELECT 1 FROM pragma_foreign_key_check)",
    );
    if diesel::select(broken).get_result(sqlite)? {
        return Err(MigrateError::Migration("a row would refer to one that is not there".into()));
    }
    Ok(())
}

fn pending<DB, C>(conn: &mut C, known: EmbeddedMigrations) -> Result<usize, MigrateError>
where
    DB: diesel::backend::Backend,
    C: MigrationHarness<DB>,
    EmbeddedMigrations: diesel::migration::MigrationSource<DB>,
{
    let names = diesel::migration::MigrationSource::<DB>::migrations(&known)
        .map_err(MigrateError::Migration)?;
    let known_versions: Vec<String> =
        names.iter().map(|migration| migration.name().version().to_string()).collect();
    let applied = conn.applied_migrations().map_err(MigrateError::Migration)?;
    let unknown =
        applied.iter().map(ToString::to_string).find(|version| !known_versions.contains(version));
    if let Some(version) = unknown {
        return Err(MigrateError::Newer { version });
    }
    Ok(conn.run_pending_migrations(known).map_err(MigrateError::Migration)?.len())
}

/// Takes every migration back, the last one first.
#[cfg(feature = "testing")]
pub(crate) fn revert_all(conn: &mut Conn) -> Result<usize, MigrateError> {
    without_foreign_keys(conn, |conn| {
        let reverted = match conn {
            Conn::Pg(pg) => pg.revert_all_migrations(POSTGRES).map(|all| all.len()),
            Conn::Sqlite(sqlite) => sqlite.revert_all_migrations(SQLITE).map(|all| all.len()),
        };
        reverted.map_err(MigrateError::Migration)
    })
}

/// Takes the last migration back.
#[cfg(feature = "testing")]
pub(crate) fn revert_last(conn: &mut Conn) -> Result<(), MigrateError> {
    without_foreign_keys(conn, |conn| {
        let reverted = match conn {
            Conn::Pg(pg) => pg.revert_last_migration(POSTGRES).map(drop),
            Conn::Sqlite(sqlite) => sqlite.revert_last_migration(SQLITE).map(drop),
        };
        reverted.map_err(MigrateError::Migration)
    })
}
