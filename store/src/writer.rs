//! SQLite's one writer: a thread with a queue that commits whatever waits in one transaction.
//!
//! A sync to the disk costs the same for one log as for fifty, so each piece of work runs in a
//! savepoint of its own and all of them share one COMMIT. Nobody is answered before it.

use std::{
    num::NonZeroU32,
    panic::{AssertUnwindSafe, catch_unwind},
    thread,
};

use diesel::{
    Connection, SqliteConnection,
    connection::{AnsiTransactionManager, TransactionManager, TransactionManagerStatus},
    result::QueryResult,
};
use tokio::sync::{mpsc, oneshot};

use crate::{StoreError, Tx, conn::Conn, store::panicked};

/// Pieces of work that may wait; a server with more has to say that it is busy.
const QUEUE: usize = 1_024;
/// Pieces of work that share a commit. More would make the first one wait for the last.
const PER_COMMIT: usize = 64;

type Manager = <SqliteConnection as Connection>::TransactionManager;

/// Work for the writer: it runs once, or is refused without having run.
trait Job: Send {
    fn run(self: Box<Self>, conn: &mut Conn) -> Done;
    fn refuse(self: Box<Self>, error: StoreError);
}

/// Work that has run and waits for the commit it is part of.
struct Done {
    /// Whether to keep what it did.
    keep: bool,
    /// Answers whoever asked for it, once it is known whether the commit succeeded.
    answer: Box<dyn FnOnce(Result<(), StoreError>)>,
}

/// A closure and whoever waits for its outcome. Whoever asked may have gone away meanwhile; what
/// was committed stays.
struct Work<F, T, E> {
    f: F,
    tell: oneshot::Sender<Result<T, E>>,
}

impl<T, E, F> Job for Work<F, T, E>
where
    T: Send + 'static,
    E: From<StoreError> + Send + 'static,
    F: FnOnce(&mut Tx<'_>) -> Result<T, E> + Send,
{
    fn run(self: Box<Self>, conn: &mut Conn) -> Done {
        let Self { f, tell } = *self;
        let outcome = f(&mut Tx::new(conn));
        let keep = outcome.is_ok();
        let answer = move |committed: Result<(), StoreError>| {
            let _gone = tell.send(committed.map_err(E::from).and(outcome));
        };
        Done { keep, answer: Box::new(answer) }
    }

    fn refuse(self: Box<Self>, error: StoreError) {
        let _gone = self.tell.send(Err(error.into()));
    }
}

/// The queue's near end.
#[derive(Clone)]
pub(crate) struct Writer {
    queue: mpsc::Sender<Box<dyn Job>>,
}

impl Writer {
    /// Gives the connection to a thread of its own. The thread ends when the last `Writer` is gone.
    pub(crate) fn start(mut conn: Conn) -> std::io::Result<Self> {
        let (queue, mut waiting) = mpsc::channel(QUEUE);
        thread::Builder::new().name("writer".to_owned()).spawn(move || {
            let mut batch: Vec<Box<dyn Job>> = Vec::with_capacity(PER_COMMIT);
            while waiting.blocking_recv_many(&mut batch, PER_COMMIT) > 0 {
                commit_together(&mut conn, batch.drain(..));
            }
        })?;
        Ok(Self { queue })
    }

    /// Queues `f` and waits until it is on the disk, or was refused.
    pub(crate) async fn run<T, E, F>(&self, f: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Tx<'_>) -> Result<T, E> + Send + 'static,
    {
        let (tell, told) = oneshot::channel();
        match self.queue.try_send(Box::new(Work { f, tell })) {
            Ok(()) => {}
            Err(mpsc::error::TrySendError::Full(_)) => return Err(StoreError::Busy.into()),
            Err(mpsc::error::TrySendError::Closed(_)) => return Err(panicked().into()),
        }
        told.await.unwrap_or_else(|_dropped| Err(panicked().into()))
    }
}

fn commit_together(conn: &mut Conn, jobs: impl Iterator<Item = Box<dyn Job>>) {
    let Conn::Sqlite(sqlite) = &mut *conn else { return };
    if let Err(error) = AnsiTransactionManager::begin_transaction_sql(sqlite, "BEGIN IMMEDIATE") {
        let text = error.to_string();
        return jobs.for_each(|job| job.refuse(StoreError::Unavailable(text.clone())));
    }
    let done: Vec<Done> = jobs.filter_map(|job| in_savepoint(conn, job)).collect();
    let Conn::Sqlite(sqlite) = conn else { return };
    let committed = Manager::commit_transaction(sqlite);
    if committed.is_err() {
        let _ = unwind_to(sqlite, None);
    }
    let committed = committed.map_err(|error| error.to_string());
    for job in done {
        // Work that failed by itself has its own answer, whatever became of the commit.
        let shared = if job.keep { committed.clone() } else { Ok(()) };
        (job.answer)(shared.map_err(StoreError::Unavailable));
    }
}

/// Runs a job in a savepoint. A job that panics leaves nothing behind and harms no other; its
/// answer is lost with it, which the asker notices.
fn in_savepoint(conn: &mut Conn, job: Box<dyn Job>) -> Option<Done> {
    let Conn::Sqlite(sqlite) = &mut *conn else { return None };
    let depth = depth_of(sqlite);
    if let Err(error) = Manager::begin_transaction(sqlite) {
        job.refuse(error.into());
        return None;
    }
    let ran = catch_unwind(AssertUnwindSafe(|| job.run(&mut *conn)));
    let Conn::Sqlite(sqlite) = conn else { return None };
    match ran {
        Ok(done) if done.keep => match Manager::commit_transaction(sqlite) {
            Ok(()) => Some(done),
            Err(error) => {
                let _ = unwind_to(sqlite, depth);
                (done.answer)(Err(error.into()));
                None
            }
        },
        Ok(done) => {
            let _ = unwind_to(sqlite, depth);
            Some(done)
        }
        Err(_panic) => {
            let _ = unwind_to(sqlite, depth);
            None
        }
    }
}

/// Rolls savepoints back until `depth` is reached.
fn unwind_to(sqlite: &mut SqliteConnection, depth: Option<NonZeroU32>) -> QueryResult<()> {
    while depth_of(sqlite) > depth {
        Manager::rollback_transaction(sqlite)?;
    }
    Ok(())
}

fn depth_of(sqlite: &mut SqliteConnection) -> Option<NonZeroU32> {
    match Manager::transaction_manager_status_mut(sqlite) {
        TransactionManagerStatus::Valid(status) => status.transaction_depth(),
        TransactionManagerStatus::InError => None,
    }
}
