//! A load client that is as cheap as it can be, since it shares the machine with the server:
//! HTTP/1.1 over one kept connection a thread, no more of the protocol than the answers need.

use std::{
    io::{self, BufRead, BufReader, Read, Write},
    net::{SocketAddr, TcpStream},
    sync::Barrier,
    thread,
    time::{Duration, Instant},
};

use anyhow::{Context, anyhow, bail, ensure};

use crate::machine;

/// Longer than any answer takes on a machine that still works.
const PATIENCE: Duration = Duration::from_secs(30);

/// A kept connection.
pub(crate) struct Connection {
    stream: BufReader<TcpStream>,
    line: Vec<u8>,
    /// The body of the last answer.
    pub(crate) body: Vec<u8>,
}

impl Connection {
    pub(crate) fn open(address: SocketAddr) -> io::Result<Self> {
        let stream = TcpStream::connect(address)?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(PATIENCE))?;
        let stream = BufReader::with_capacity(64 * 1024, stream);
        Ok(Self { stream, line: Vec::new(), body: Vec::new() })
    }

    /// Sends a request and reads the whole answer; says its status.
    pub(crate) fn exchange(&mut self, request: &[u8]) -> anyhow::Result<u16> {
        self.stream.get_mut().write_all(request)?;
        let status = self.next_line()?.get(9..12).and_then(|digits| digits.parse().ok());
        let status = status.context("the answer does not begin with a status line")?;
        let mut length = None;
        loop {
            let line = self.next_line()?;
            if line.is_empty() {
                break;
            }
            if let Some((name, value)) = line.split_once(':')
                && name.eq_ignore_ascii_case("content-length")
            {
                length = value.trim().parse().ok();
            }
        }
        self.body.resize(length.context("an answer without a content-length")?, 0);
        self.stream.read_exact(&mut self.body)?;
        Ok(status)
    }

    fn next_line(&mut self) -> anyhow::Result<&str> {
        self.line.clear();
        self.stream.read_until(b'\n', &mut self.line)?;
        ensure!(self.line.ends_with(b"\r\n"), "the connection was closed");
        Ok(std::str::from_utf8(&self.line)?.trim_ascii_end())
    }
}

/// What a connection sends.
pub(crate) trait Script: Sync {
    /// Puts a request into an empty buffer: the one after `turn` others on that connection.
    fn write(&self, connection: usize, turn: usize, request: &mut Vec<u8>) -> io::Result<()>;
}

/// What came of a load.
pub(crate) struct Load {
    /// Answers with a status from 200 to 299.
    pub(crate) answers: u32,
    /// All others, and the first of them.
    pub(crate) refused: u32,
    pub(crate) first_refusal: Option<String>,
    pub(crate) per_s: f64,
    pub(crate) p50: Duration,
    pub(crate) p99: Duration,
    /// Processor time of this process without its load threads, for each answer.
    pub(crate) processor: Duration,
    /// Length of the last answer.
    pub(crate) bytes: usize,
}

/// What one connection saw.
#[derive(Default)]
struct Seen {
    took: Vec<Duration>,
    refused: u32,
    first_refusal: Option<String>,
    processor: Duration,
    bytes: usize,
}

/// Keeps every connection busy for as long as asked: each sends its next request when it has the
/// answer to the one before.
pub(crate) fn load(
    address: SocketAddr,
    connections: usize,
    lasting: Duration,
    script: &dyn Script,
) -> anyhow::Result<Load> {
    let start = Barrier::new(connections + 1);
    let (seen, elapsed, processor) = thread::scope(|scope| {
        let start = &start;
        let threads: Vec<_> = (0..connections)
            .map(|number| scope.spawn(move || one(address, number, lasting, script, start)))
            .collect();
        start.wait();
        let (began, before) = (Instant::now(), machine::processor_time_of_process());
        let seen: Vec<_> = threads.into_iter().map(thread::ScopedJoinHandle::join).collect();
        let used = machine::processor_time_of_process()?.saturating_sub(before?);
        anyhow::Ok((seen, began.elapsed(), used))
    })?;
    let mut all = Seen::default();
    for one in seen {
        let one = one.map_err(|_panic| anyhow!("a load thread panicked"))??;
        all.took.extend(one.took);
        all.refused += one.refused;
        all.first_refusal = all.first_refusal.or(one.first_refusal);
        all.processor += one.processor;
        all.bytes = one.bytes;
    }
    all.took.sort_unstable();
    let answers = u32::try_from(all.took.len())?;
    if answers == 0 {
        let first = all.first_refusal.unwrap_or_default();
        bail!("the run is void: all {} requests were refused, the first with {first}", all.refused);
    }
    Ok(Load {
        answers,
        refused: all.refused,
        first_refusal: all.first_refusal,
        per_s: f64::from(answers) / elapsed.as_secs_f64(),
        p50: percentile(&all.took, 50),
        p99: percentile(&all.took, 99),
        processor: processor.saturating_sub(all.processor) / answers,
        bytes: all.bytes,
    })
}

/// The smallest that at least so many of a hundred do not exceed.
fn percentile(sorted: &[Duration], percent: usize) -> Duration {
    let rank = (sorted.len() * percent).div_ceil(100).max(1);
    sorted.get(rank - 1).copied().unwrap_or_default()
}

fn one(
    address: SocketAddr,
    number: usize,
    lasting: Duration,
    script: &dyn Script,
    start: &Barrier,
) -> anyhow::Result<Seen> {
    // Whether or not there is a connection, the others wait for this thread.
    let connection = Connection::open(address);
    start.wait();
    let mut connection = connection.with_context(|| format!("no connection to {address}"))?;
    let (mut seen, mut request, mut turn) = (Seen::default(), Vec::new(), 0);
    let began = Instant::now();
    while began.elapsed() < lasting {
        request.clear();
        script.write(number, turn, &mut request)?;
        let sent = Instant::now();
        let status = connection.exchange(&request)?;
        if (200..300).contains(&status) {
            seen.took.push(sent.elapsed());
        } else {
            seen.refused += 1;
            let answer = || format!("{status} {}", String::from_utf8_lossy(&connection.body));
            seen.first_refusal.get_or_insert_with(answer);
        }
        turn += 1;
    }
    seen.bytes = connection.body.len();
    seen.processor = machine::processor_time_of_thread()?;
    Ok(seen)
}
