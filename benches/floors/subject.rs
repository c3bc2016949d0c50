//! What is measured: the real server over a database, and what is asked of it.

use std::{
    io::{self, Write},
    net::{SocketAddr, TcpListener},
    sync::Arc,
};

use actix_web::dev::ServerHandle;
use anyhow::{Context, ensure};
use domain::{
    ids::{BowId, ShotLogId},
    ledger,
    time::Clock,
};
use jiff::Timestamp;
use serde_json::{Value, json};
use store::{DatabaseUrl, Store, StoreError, fresh_id};
use tokio::runtime::Runtime;

use crate::{
    client::{Connection, Script},
    clubs::{self, Seeded},
};

/// Shots of every log that is posted.
const SHOTS: i64 = 72;

/// The machine's clock.
pub(crate) struct MachineClock;

impl Clock for MachineClock {
    #[expect(clippy::disallowed_methods, reason = "the program is measured as it runs")]
    fn now(&self) -> Timestamp {
        Timestamp::now()
    }
}

/// The real server over one database, in this process.
pub(crate) struct Subject {
    pub(crate) name: &'static str,
    pub(crate) address: SocketAddr,
    /// Logs that were answered as taken.
    pub(crate) logged: u32,
    store: Store,
    logging: Seeded,
    handle: ServerHandle,
}

impl Subject {
    /// Opens an empty database, fills it, and serves it.
    pub(crate) fn start(
        runtime: &Runtime,
        name: &'static str,
        url: &DatabaseUrl,
        connections: usize,
    ) -> anyhow::Result<Self> {
        let (store, now) = (Store::open(url)?, MachineClock.now());
        let logging = runtime.block_on(clubs::logging(&store, connections, now))?;
        runtime.block_on(clubs::asking(&store, now))?;
        let (address, handle) = serve(runtime, store.clone())?;
        Ok(Self { name, address, logged: 0, store, logging, handle })
    }

    /// Everything that is asked of a server with these clubs, with fresh proof of who asks.
    pub(crate) fn asks(&self, address: SocketAddr) -> anyhow::Result<Asks> {
        let log = Logs {
            token: sign_in(address, clubs::LOGGER)?,
            bows: self.logging.bows.clone(),
            now: MachineClock.now(),
        };
        Ok(Asks { log, due: Due { token: sign_in(address, clubs::ASKER)? } })
    }

    /// Fails unless the parts were counted up by every log that was answered as taken, and by no
    /// other.
    pub(crate) fn check_counts(&self, runtime: &Runtime) -> anyhow::Result<()> {
        let (club, strings) = (self.logging.club, self.logging.strings.clone());
        let counted = runtime.block_on(self.store.read(move |read| {
            let mut total = 0;
            for string in strings {
                let readings = store::wear::readings(read, club, string)?;
                let life = readings.iter().find(|reading| reading.clock == ledger::Clock::Life);
                total += life.map_or(0, |reading| reading.shots);
            }
            Ok::<i64, StoreError>(total)
        }))?;
        let expected = i64::from(self.logged) * SHOTS;
        ensure!(
            counted == expected,
            "{}: the strings show {counted} shots, the answers {expected}",
            self.name
        );
        Ok(())
    }

    pub(crate) fn stop(self, runtime: &Runtime) {
        runtime.block_on(self.handle.stop(true));
    }
}

/// The present moment by the machine's clock.
pub(crate) fn now() -> Timestamp {
    MachineClock.now()
}

/// Serves a database on a port of its own.
pub(crate) fn serve(runtime: &Runtime, store: Store) -> anyhow::Result<(SocketAddr, ServerHandle)> {
    let keys = api::Keys {
        signing: api::SigningKey { id: "floors".to_owned(), secret: [7; 32] },
        previous: None,
        seals: store::seals::Seals::new([8; 32], None),
    };
    let api = api::Api::new(store, Arc::new(MachineClock), &keys, None);
    let listener = TcpListener::bind("127.0.0.1:0")?;
    let address = listener.local_addr()?;
    let workers = std::thread::available_parallelism()?.get();
    let _entered = runtime.enter();
    let server = api::server(api, listener, workers)?;
    let handle = server.handle();
    runtime.spawn(server);
    Ok((address, handle))
}

pub(crate) fn sign_in(address: SocketAddr, email: &str) -> anyhow::Result<String> {
    let body = json!({"email": email, "password": clubs::PASSWORD}).to_string();
    let mut request = Vec::new();
    write_post(&mut request, "/api/v1/auth/sign-in", "", &body)?;
    let mut connection = Connection::open(address)?;
    let status = connection.exchange(&request)?;
    ensure!(status == 200, "signing in was answered {status}");
    let answer: Value = serde_json::from_slice(&connection.body)?;
    let token = answer.get("access_token").and_then(Value::as_str);
    Ok(token.context("no token in the answer")?.to_owned())
}

fn write_post(request: &mut Vec<u8>, path: &str, proof: &str, body: &str) -> io::Result<()> {
    write!(
        request,
        "POST {path} HTTP/1.1\r\nHost: floors\r\n{proof}Content-Type: application/json\r\n\
         Content-Length: {}\r\n\r\n{body}",
        body.len()
    )
}

/// What is asked.
pub(crate) struct Asks {
    pub(crate) log: Logs,
    pub(crate) due: Due,
}

/// Logs, each with an id of its own, for the connection's own bows in turn.
pub(crate) struct Logs {
    pub(crate) token: String,
    pub(crate) bows: Vec<BowId>,
    pub(crate) now: Timestamp,
}

impl Script for Logs {
    fn write(&self, connection: usize, turn: usize, request: &mut Vec<u8>) -> io::Result<()> {
        let place = connection * clubs::BOWS_EACH + turn % clubs::BOWS_EACH;
        let bow = self.bows.get(place).ok_or_else(|| io::Error::other("no bow left"))?;
        let id = fresh_id::<ShotLogId>(self.now).0;
        let proof = format!("Authorization: Bearer {}\r\n", self.token);
        let body =
            format!(r#"{{"id":"{id}","bow_id":"{}","at":"{}","shots":{SHOTS}}}"#, bow.0, self.now);
        write_post(request, "/api/v1/shot-logs", &proof, &body)
    }
}

/// What is due in the club.
pub(crate) struct Due {
    token: String,
}

impl Script for Due {
    fn write(&self, _connection: usize, _turn: usize, request: &mut Vec<u8>) -> io::Result<()> {
        write!(
            request,
            "GET /api/v1/due HTTP/1.1\r\nHost: floors\r\nAuthorization: Bearer {}\r\n\r\n",
            self.token
        )
    }
}
