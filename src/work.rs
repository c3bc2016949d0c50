//! `tautline work`: the worker alone.

use std::{
    io::{self, Write},
    sync::Arc,
};

use anyhow::bail;
use tokio::signal::unix::{SignalKind, signal};
use tokio_util::sync::CancellationToken;

use crate::{clock::SystemClock, open, secret, settings::Settings};

/// Works until it is told to stop, or for one round.
pub(crate) fn run(settings: &Settings, once: bool) -> anyhow::Result<()> {
    let keys = secret::keys(settings)?;
    let store = open::store(settings)?;
    let worker = open::worker(settings, store, keys.seals, Arc::new(SystemClock))?;
    open::runtime()?.block_on(async {
        if once {
            let mut failed = false;
            for done in worker.run_once().await {
                match done.outcome {
                    Ok(count) => writeln!(io::stdout(), "{}: {count}", done.job)?,
                    Err(error) => {
                        failed = true;
                        writeln!(io::stderr(), "{}: {error}", done.job)?;
                    }
                }
            }
            if failed {
                bail!("not every job could do its work");
            }
            return Ok(());
        }
        let stop = CancellationToken::new();
        let working = tokio::spawn(worker::schedule::run(worker, stop.clone()));
        asked_to_stop().await?;
        stop.cancel();
        Ok(working.await??)
    })
}

/// Waits for the signal of an operator or of the machine's own shutting down.
pub(crate) async fn asked_to_stop() -> io::Result<()> {
    let mut terminate = signal(SignalKind::terminate())?;
    tokio::select! {
        interrupted = tokio::signal::ctrl_c() => interrupted,
        _ = terminate.recv() => Ok(()),
    }
}
