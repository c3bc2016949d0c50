//! The door: open a database, read from it, write to it.

use std::{
    ops::{Deref, DerefMut},
    panic::{AssertUnwindSafe, catch_unwind},
};

use diesel::{RunQueryDsl, r2d2::Pool};

use crate::{
    StoreError,
    conn::{Conn, Connector, DatabaseUrl, Use, connect, pool, within},
    migrate::{MigrateError, migrate},
    writer::Writer,
};

/// Why a database could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// No connection.
    #[error("cannot open {url}: {reason}")]
    Connect {
        /// Which database, without its password.
        url: DatabaseUrl,
        /// What the database said.
        reason: String,
    },
    /// Not the schema this program needs.
    #[error(transparent)]
    Migrate(#[from] MigrateError),
}

/// What is read in one snapshot.
pub struct Read<'c>(&'c mut Conn);

impl Read<'_> {
    pub(crate) fn conn(&mut self) -> &mut Conn {
        self.0
    }
}

/// One transaction: it can do all that [`Read`] can, and write.
pub struct Tx<'c>(Read<'c>);

impl<'c> Deref for Tx<'c> {
    type Target = Read<'c>;

    fn deref(&self) -> &Self::Target {
        &self.0
    }
}

impl DerefMut for Tx<'_> {
    fn deref_mut(&mut self) -> &mut Self::Target {
        &mut self.0
    }
}

impl<'c> Tx<'c> {
    pub(crate) fn new(conn: &'c mut Conn) -> Self {
        Self(Read(conn))
    }
}

/// An open database. Cheap to clone; all clones share its connections.
#[derive(Clone)]
pub struct Store {
    readers: Pool<Connector>,
    writing: Writing,
    url: DatabaseUrl,
}

/// SQLite has one writer whatever we do, so it gets a queue; PostgreSQL takes them as they come.
#[derive(Clone)]
enum Writing {
    Queued(Writer),
    Pooled(Pool<Connector>),
}

/// Snapshots that are read at once; more wait.
const READERS: u32 = 4;
/// Snapshots and transactions at once on PostgreSQL.
const PG_READERS: u32 = 8;
const PG_WRITERS: u32 = 16;

impl Store {
    /// Opens a database and brings its schema up to date.
    ///
    /// # Errors
    /// [`OpenError`]: no connection, a schema from a later release, a migration that failed.
    pub fn open(url: &DatabaseUrl) -> Result<Self, OpenError> {
        let refused = |error: &dyn std::fmt::Display| OpenError::Connect {
            url: url.clone(),
            reason: error.to_string(),
        };
        let mut conn = connect(url, Use::Writing).map_err(|error| refused(&error))?;
        migrate(&mut conn)?;
        let (readers, writing) = match url {
            DatabaseUrl::Sqlite(_) => {
                let writer = Writer::start(conn).map_err(|error| refused(&error))?;
                (pool(url, Use::Reading, READERS), Writing::Queued(writer))
            }
            DatabaseUrl::Postgres(_) => {
                // Two pools: writers that wait for a club must not keep others from reading.
                let writers = pool(url, Use::Writing, PG_WRITERS);
                (pool(url, Use::Reading, PG_READERS), Writing::Pooled(writers))
            }
        };
        Ok(Self { readers, writing, url: url.clone() })
    }

    /// Which database this is.
    #[must_use]
    pub const fn url(&self) -> &DatabaseUrl {
        &self.url
    }

    /// Whether the database answers.
    ///
    /// # Errors
    /// A [`StoreError`] if it does not.
    pub async fn ping(&self) -> Result<(), StoreError> {
        let ask = |read: &mut Read<'_>| diesel::sql_query("SELECT 1").execute(read.conn());
        self.read(move |read| Ok(ask(read).map(drop)?)).await
    }

    /// Reads in one snapshot that cannot write.
    ///
    /// # Errors
    /// What `f` returns, or a [`StoreError`] as `E`.
    pub async fn read<T, E, F>(&self, f: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Read<'_>) -> Result<T, E> + Send + 'static,
    {
        let begin = match self.url {
            DatabaseUrl::Sqlite(_) => "BEGIN",
            DatabaseUrl::Postgres(_) => "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY",
        };
        pooled(self.readers.clone(), begin, |conn| f(&mut Read(conn))).await
    }

    /// Writes in one transaction: all that `f` did is kept when it returns `Ok`, and nothing of it
    /// otherwise. When this returns `Ok`, it is on the disk.
    ///
    /// # Errors
    /// What `f` returns, or a [`StoreError`] as `E`.
    pub async fn write<T, E, F>(&self, f: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Tx<'_>) -> Result<T, E> + Send + 'static,
    {
        match &self.writing {
            Writing::Queued(writer) => writer.run(f).await,
            Writing::Pooled(pool) => {
                pooled(pool.clone(), "BEGIN", |conn| f(&mut Tx::new(conn))).await
            }
        }
    }
}

/// Runs `f` in a transaction on a connection of the pool, on a thread that may block.
async fn pooled<T, E, F>(pool: Pool<Connector>, begin: &'static str, f: F) -> Result<T, E>
where
    T: Send + 'static,
    E: From<StoreError> + Send + 'static,
    F: FnOnce(&mut Conn) -> Result<T, E> + Send + 'static,
{
    let task = tokio::task::spawn_blocking(move || {
        let mut conn = pool.get().map_err(|error| StoreError::Unavailable(error.to_string()))?;
        // Caught here, so that the pool sees the open transaction and drops the connection.
        catch_unwind(AssertUnwindSafe(|| within(&mut conn, begin, f)))
            .unwrap_or_else(|_| Err(panicked().into()))
    });
    task.await.unwrap_or_else(|error| Err(StoreError::Unavailable(error.to_string()).into()))
}

/// What a caller is told whose closure panicked; the panic itself is in the log.
pub(crate) fn panicked() -> StoreError {
    StoreError::Database("the work panicked; nothing of it was kept".to_owned())
}
