//! `tautline serve`: the API, with the worker beside it unless that runs elsewhere.

use std::{
    io::{self, Write},
    net::TcpListener,
    sync::Arc,
};

use domain::time::Clock;
use store::{Store, StoreError};
use tokio::task::JoinSet;
use tokio_util::sync::CancellationToken;
use worker::Worker;

use crate::{
    clock::SystemClock,
    open, secret,
    settings::{LISTEN, SettingError, Settings},
    work,
};

/// Serves until it is told to stop.
pub(crate) fn run(settings: &Settings, with_worker: bool) -> anyhow::Result<()> {
    let keys = secret::keys(settings)?;
    let store = open::store(settings)?;
    let clock: Arc<dyn Clock> = Arc::new(SystemClock);
    let worker = if with_worker {
        Some(open::worker(settings, store.clone(), keys.seals.clone(), Arc::clone(&clock))?)
    } else {
        None
    };
    let listener = listen(settings)?;
    open::runtime()?.block_on(async {
        let code = setup_code(&store).await?;
        let mut out = io::stdout();
        writeln!(out, "Tautline serves {} on {}", store.url(), settings.base_url)?;
        if let Some(code) = &code {
            writeln!(out, "There is no club yet. Set one up once, with this code: {code}")?;
        }
        out.flush()?;
        let token = settings.metrics_token.as_ref().map(|token| token.0.as_str());
        let api = api::Api::new(store, clock, &keys, code)
            .reached_at(&settings.base_url)
            .measured_by(token);
        until_stopped(api, listener, worker).await
    })
}

/// The socket that the settings name.
pub(crate) fn listen(settings: &Settings) -> Result<TcpListener, SettingError> {
    TcpListener::bind(settings.listen)
        .map_err(|error| SettingError::new(LISTEN, format!("{}: {error}", settings.listen)))
}

/// A fresh code to set up the first club with, if there is none.
async fn setup_code(store: &Store) -> anyhow::Result<Option<String>> {
    let clubs = store.read::<_, StoreError, _>(store::clubs::ids).await?;
    Ok(if clubs.is_empty() { Some(secret::random_text()?) } else { None })
}

/// Runs server and worker until the process is told to stop, then lets both finish what they are
/// about.
pub(crate) async fn until_stopped(
    api: api::Api,
    listener: TcpListener,
    worker: Option<Worker>,
) -> anyhow::Result<()> {
    let threads = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
    let server = api::server(api, listener, threads)?;
    let handle = server.handle();
    let stop = CancellationToken::new();
    let mut running: JoinSet<anyhow::Result<()>> = JoinSet::new();
    running.spawn(async move { Ok(server.await?) });
    if let Some(worker) = worker {
        let stop = stop.clone();
        running.spawn(async move { Ok(worker::schedule::run(worker, stop).await?) });
    }
    // One that ends before it was asked to has failed; the other must not go on as if all were well.
    let ended = tokio::select! {
        asked = work::asked_to_stop() => asked.map_err(Into::into),
        Some(ended) = running.join_next() => ended.map_err(Into::into).flatten(),
    };
    stop.cancel();
    handle.stop(true).await;
    ended?;
    while let Some(ended) = running.join_next().await {
        ended??;
    }
    Ok(())
}
