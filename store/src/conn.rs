//! The two databases as one type, and the connections to them.

use std::{fmt, str::FromStr, thread, time::Duration};

use diesel::{
    Connection, PgConnection, QueryResult, RunQueryDsl, SqliteConnection,
    connection::{AnsiTransactionManager, SimpleConnection, TransactionManager},
    r2d2::{ManageConnection, Pool},
};

use crate::StoreError;

/// A connection to either database. Only this crate sees it.
///
/// Through this type diesel prepares a query that has a LIMIT anew each time, and `first` adds one.
/// A single row that is found by its key is therefore asked for with `get_result`.
#[derive(diesel::MultiConnection)]
#[expect(unreachable_pub, reason = "the derive names it in public signatures of this module")]
pub enum Conn {
    Pg(PgConnection),
    Sqlite(SqliteConnection),
}

/// Where the database is.
#[derive(Clone, PartialEq, Eq)]
pub enum DatabaseUrl {
    /// A file of its own.
    Sqlite(String),
    /// A PostgreSQL server; the whole URL.
    Postgres(String),
}

/// Why a text does not name a database.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DatabaseUrlError {
    /// Neither of the two schemes.
    #[error("must begin with sqlite:// or postgres://")]
    Scheme,
    /// `sqlite://` and no file after it.
    #[error("must name a file after sqlite://")]
    NoFile,
}

impl FromStr for DatabaseUrl {
    type Err = DatabaseUrlError;

    fn from_str(url: &str) -> Result<Self, Self::Err> {
        match url.split_once("://") {
            // A database in memory would be another one for each connection.
            Some(("sqlite", "" | ":memory:")) => Err(DatabaseUrlError::NoFile),
            Some(("sqlite", path)) => Ok(Self::Sqlite(path.to_owned())),
            Some(("postgres" | "postgresql", _)) => Ok(Self::Postgres(url.to_owned())),
            _ => Err(DatabaseUrlError::Scheme),
        }
    }
}

impl fmt::Debug for DatabaseUrl {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// Without user and password, so that it may stand in a log.
impl fmt::Display for DatabaseUrl {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Sqlite(path) => write!(f, "sqlite://{path}"),
            Self::Postgres(url) => {
                let rest = url.split_once("://").map_or("", |(_, rest)| rest);
                let rest = rest.split('?').next().unwrap_or(rest);
                write!(f, "postgres://{}", rest.rsplit_once('@').map_or(rest, |(_, host)| host))
            }
        }
    }
}

/// For what a connection is used; on SQLite a reader is made unable to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Use {
    Reading,
    Writing,
}

/// Settings of every SQLite connection. `FULL`: a log that was acknowledged is on the disk.
const SQLITE_SETTINGS: &str = "PRAGMA busy_timeout = 5000; PRAGMA synchronous = FULL; \
PRAGMA foreign_keys = ON; PRAGMA cache_size = -16000; PRAGMA temp_store = MEMORY; \
PRAGMA journal_size_limit = 67108864;";

/// Settings of every PostgreSQL connection: whoever waits for a lock is told before their client
/// gives up.
const PG_SETTINGS: &str = "SET TIME ZONE 'UTC'; SET lock_timeout = '5s'";

/// How often, and how far apart, to ask for the write-ahead log: as long as `busy_timeout` waits.
const WAL_TRIES: u32 = 250;
const WAL_PAUSE: Duration = Duration::from_millis(20);

pub(crate) fn connect(url: &DatabaseUrl, purpose: Use) -> Result<Conn, ConnectError> {
    match url {
        DatabaseUrl::Postgres(url) => {
            let mut conn = PgConnection::establish(url)?;
            conn.batch_execute(PG_SETTINGS)?;
            Ok(Conn::Pg(conn))
        }
        DatabaseUrl::Sqlite(path) => {
            for_owner_only(path)?;
            let mut conn = SqliteConnection::establish(path)?;
            conn.batch_execute(SQLITE_SETTINGS)?;
            turn_on_wal(&mut conn)?;
            if purpose == Use::Reading {
                conn.batch_execute("PRAGMA query_only = ON;")?;
            }
            Ok(Conn::Sqlite(conn))
        }
    }
}

/// Makes the file, if it is not there, so that only its owner reads it: there are addresses and
/// password hashes in it. The files that SQLite puts beside it take after it.
fn for_owner_only(path: &str) -> std::io::Result<()> {
    use std::os::unix::fs::OpenOptionsExt;
    let new = std::fs::OpenOptions::new().write(true).create_new(true).mode(0o600).open(path);
    match new {
        Err(error) if error.kind() != std::io::ErrorKind::AlreadyExists => Err(error),
        _ => Ok(()),
    }
}

/// Turns the write-ahead log on; it stays on in the file. Of several that open a new file at once
/// all but one are told that it is locked: SQLite does not wait here, whatever `busy_timeout` says.
fn turn_on_wal(conn: &mut SqliteConnection) -> Result<(), diesel::result::Error> {
    for _ in 1..WAL_TRIES {
        match conn.batch_execute("PRAGMA journal_mode = WAL") {
            Err(error) if error.to_string().contains("locked") => thread::sleep(WAL_PAUSE),
            outcome => return outcome,
        }
    }
    conn.batch_execute("PRAGMA journal_mode = WAL")
}

/// Why there is no connection.
#[derive(Debug, thiserror::Error)]
pub(crate) enum ConnectError {
    #[error(transparent)]
    Connection(#[from] diesel::ConnectionError),
    #[error(transparent)]
    Settings(#[from] diesel::result::Error),
    #[error(transparent)]
    File(#[from] std::io::Error),
}

/// Makes connections for a pool, of the kind the URL asks for.
pub(crate) struct Connector {
    url: DatabaseUrl,
    purpose: Use,
}

impl ManageConnection for Connector {
    type Connection = Conn;
    type Error = ConnectError;

    fn connect(&self) -> Result<Conn, ConnectError> {
        connect(&self.url, self.purpose)
    }

    fn is_valid(&self, conn: &mut Conn) -> Result<(), ConnectError> {
        diesel::sql_query("SELECT 1").execute(conn)?;
        Ok(())
    }

    fn has_broken(&self, conn: &mut Conn) -> bool {
        std::thread::panicking()
            || <Conn as Connection>::TransactionManager::is_broken_transaction_manager(conn)
    }
}

/// A pool of connections, opened as they are needed.
pub(crate) fn pool(url: &DatabaseUrl, purpose: Use, size: u32) -> Pool<Connector> {
    Pool::builder()
        .max_size(size)
        .min_idle(Some(0))
        .test_on_check_out(matches!(url, DatabaseUrl::Postgres(_)))
        .connection_timeout(Duration::from_secs(10))
        .build_unchecked(Connector { url: url.clone(), purpose })
}

/// Runs `f` in a transaction that begins with `begin`, and keeps what it did only if it returns
/// `Ok`. A panic leaves the transaction open; the connection's owner drops it.
pub(crate) fn within<T, E: From<StoreError>>(
    conn: &mut Conn,
    begin: &str,
    f: impl FnOnce(&mut Conn) -> Result<T, E>,
) -> Result<T, E> {
    let database = |error: diesel::result::Error| E::from(StoreError::from(error));
    match conn {
        Conn::Pg(pg) => AnsiTransactionManager::begin_transaction_sql(pg, begin),
        Conn::Sqlite(sqlite) => AnsiTransactionManager::begin_transaction_sql(sqlite, begin),
    }
    .map_err(database)?;
    let outcome = f(conn);
    let end = match (&outcome, &mut *conn) {
        (Ok(_), Conn::Pg(pg)) => commit_pg(pg),
        (Ok(_), Conn::Sqlite(sqlite)) => AnsiTransactionManager::commit_transaction(sqlite),
        (Err(_), conn) => <Conn as Connection>::TransactionManager::rollback_transaction(conn),
    };
    match (outcome, end) {
        (Ok(_), Err(error)) => Err(database(error)),
        (outcome, _) => outcome,
    }
}

/// Commits, or says that there is nothing to commit. When a statement has failed and `f` passed over
/// it, PostgreSQL keeps nothing and yet answers COMMIT with success; another statement before it in
/// the same message is refused then.
fn commit_pg(pg: &mut PgConnection) -> QueryResult<()> {
    pg.batch_execute("SELECT 1; COMMIT").inspect_err(|_refused| {
        // Nothing is left to take back where it was COMMIT itself that failed.
        let _ = AnsiTransactionManager::rollback_transaction(pg);
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_url_says_which_database_and_never_shows_a_password() {
        let shown = |url: &str| url.parse::<DatabaseUrl>().map(|url| url.to_string());
        assert_eq!(shown("sqlite://club.db"), Ok("sqlite://club.db".to_owned()));
        assert_eq!(shown("sqlite:///var/club.db"), Ok("sqlite:///var/club.db".to_owned()));
        assert_eq!(shown("postgres://u:p@db/club"), Ok("postgres://db/club".to_owned()));
        let in_query = "postgres://db/club?user=u&password=p@ss";
        assert_eq!(shown(in_query), Ok("postgres://db/club".to_owned()));
        assert_eq!(shown("sqlite://"), Err(DatabaseUrlError::NoFile));
        assert_eq!(shown("sqlite://:memory:"), Err(DatabaseUrlError::NoFile));
        assert_eq!(shown("club.db"), Err(DatabaseUrlError::Scheme));
        assert_eq!(shown("mysql://db/club"), Err(DatabaseUrlError::Scheme));
    }
}
