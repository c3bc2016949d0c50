//! The floors: what the disk does without a database, and the web server without anything behind
//! it.

use std::{
    fs::{self, OpenOptions},
    io::Write,
    net::{SocketAddr, TcpListener},
    path::Path,
    time::{Duration, Instant},
};

use actix_web::{App, HttpResponse, HttpServer, dev::ServerHandle, http::header, web};
use tokio::runtime::Runtime;

/// How often in a second 4 KiB can be appended to a file and brought to the disk.
pub(crate) fn fdatasyncs_per_s(folder: &Path, lasting: Duration) -> anyhow::Result<f64> {
    let path = folder.join("raw");
    let mut file = OpenOptions::new().create(true).append(true).open(&path)?;
    let began = Instant::now();
    let mut times = 0_u32;
    while began.elapsed() < lasting {
        file.write_all(&[0xa5; 4_096])?;
        file.sync_data()?;
        times += 1;
    }
    let rate = f64::from(times) / began.elapsed().as_secs_f64();
    fs::remove_file(path)?;
    Ok(rate)
}

/// A server with nothing behind it: it reads the same requests as the real one and gives answers
/// of the same length.
pub(crate) struct Bare {
    pub(crate) address: SocketAddr,
    handle: ServerHandle,
}

/// How long each constant answer is.
#[derive(Clone, Copy)]
pub(crate) struct Lengths {
    pub(crate) log: usize,
    pub(crate) due: usize,
}

impl Bare {
    pub(crate) fn start(runtime: &Runtime, lengths: Lengths) -> anyhow::Result<Self> {
        let listener = TcpListener::bind("127.0.0.1:0")?;
        let address = listener.local_addr()?;
        let (log, due) = (json_of(lengths.log), json_of(lengths.due));
        let workers = std::thread::available_parallelism()?.get();
        let _entered = runtime.enter();
        let server = HttpServer::new(move || {
            let (log, due) = (log.clone(), due.clone());
            App::new()
                .route("/api/v1/shot-logs", web::post().to(move |_: web::Bytes| answer(&log)))
                .route("/api/v1/due", web::get().to(move || answer(&due)))
        });
        let server = server.workers(workers).disable_signals().listen(listener)?.run();
        let handle = server.handle();
        runtime.spawn(server);
        Ok(Self { address, handle })
    }

    pub(crate) fn stop(self, runtime: &Runtime) {
        runtime.block_on(self.handle.stop(false));
    }
}

fn json_of(length: usize) -> web::Bytes {
    let frame = "{\"x\":\"\"}".len();
    web::Bytes::from(format!("{{\"x\":\"{}\"}}", "x".repeat(length.saturating_sub(frame))))
}

fn answer(json: &web::Bytes) -> std::future::Ready<HttpResponse> {
    let json_type = (header::CONTENT_TYPE, "application/json");
    std::future::ready(HttpResponse::Ok().insert_header(json_type).body(json.clone()))
}
