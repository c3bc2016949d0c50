//! The server itself: what every handler is handed, and what stands around them all.

use std::{io, net::TcpListener, sync::Arc, time::Duration};

use actix_web::{App, HttpServer, dev, middleware, web};
use domain::time::Clock;
use jiff::Timestamp;
use store::{Store, seals::Seals};
use utoipa_actix_web::AppExt;

use crate::{
    auth::{Keys, Passwords, SetupCode, Throttle, Tokens},
    fallback, requests, routes,
};

/// What every handler is handed.
#[derive(Clone)]
pub struct Api {
    pub(crate) store: Store,
    pub(crate) clock: Arc<dyn Clock>,
    pub(crate) tokens: Arc<Tokens>,
    pub(crate) seals: Seals,
    pub(crate) throttle: Arc<Throttle>,
    pub(crate) passwords: Passwords,
    pub(crate) setup_code: Option<SetupCode>,
    /// The addresses that it shows lie below this.
    pub(crate) base_url: String,
    pub(crate) metrics_token: Option<Arc<str>>,
}

impl Api {
    /// An API over a store. `setup_code` is what the first owner has to show, and without one nobody can
    /// set up a club.
    #[must_use]
    pub fn new(
        store: Store,
        clock: Arc<dyn Clock>,
        keys: &Keys,
        setup_code: Option<String>,
    ) -> Self {
        Self {
            store,
            throttle: Arc::new(Throttle::new(Arc::clone(&clock))),
            clock,
            tokens: Arc::new(Tokens::new(&keys.signing, keys.previous.as_ref())),
            seals: keys.seals.clone(),
            passwords: Passwords::new(),
            setup_code: setup_code.map(SetupCode::new),
            base_url: "http://localhost".to_owned(),
            metrics_token: None,
        }
    }

    /// The same, reached at another address than this machine's own.
    #[must_use]
    pub fn reached_at(self, base_url: &str) -> Self {
        Self { base_url: base_url.to_owned(), ..self }
    }

    /// The same, with its figures of operation for whoever shows this token, rather than for this
    /// machine.
    #[must_use]
    pub fn measured_by(self, token: Option<&str>) -> Self {
        Self { metrics_token: token.map(Arc::from), ..self }
    }

    /// The same, with another clock for how often strangers may try: where the one of the records stands
    /// still, nobody would ever get a further try.
    #[must_use]
    pub fn throttled_by(self, clock: Arc<dyn Clock>) -> Self {
        Self { throttle: Arc::new(Throttle::new(clock)), ..self }
    }

    /// The present moment.
    pub(crate) fn now(&self) -> Timestamp {
        domain::time::to_microseconds(self.clock.now())
    }
}

/// How long a client may take to send the head of a request.
const HEAD_TIMEOUT: Duration = Duration::from_secs(5);
/// How long requests under way may go on after the server was told to stop.
const DRAIN_S: u64 = 10;

/// A server on a socket. It runs when it is awaited and stops by its handle.
pub fn server(api: Api, listener: TcpListener, workers: usize) -> io::Result<dev::Server> {
    let data = web::Data::new(api);
    let server = HttpServer::new(move || {
        let (app, openapi) = App::new()
            .into_utoipa_app()
            .openapi(crate::openapi::document())
            .configure(routes::all)
            .split_for_parts();
        app.app_data(data.clone())
            .app_data(web::Data::new(fallback::Methods::of(&openapi)))
            .app_data(web::PathConfig::default().error_handler(fallback::bad_path))
            .default_service(web::to(fallback::no_such_route))
            .wrap(middleware::Compress::default())
            .wrap(middleware::from_fn(requests::envelope))
    });
    Ok(server
        .workers(workers)
        .client_request_timeout(HEAD_TIMEOUT)
        .shutdown_timeout(DRAIN_S)
        .disable_signals()
        .listen(listener)?
        .run())
}
