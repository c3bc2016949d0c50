//! The program itself, as a process of its own: its size, how soon it answers, what memory it
//! takes.

use std::{
    fs::{self, File},
    net::{SocketAddr, TcpListener},
    path::Path,
    process::{Child, Command, Stdio},
    thread,
    time::{Duration, Instant},
};

use anyhow::bail;

use crate::{client::Connection, machine};

const PROGRAM: &str = env!("CARGO_BIN_EXE_tautline");
const HEALTHZ: &[u8] = b"GET /healthz HTTP/1.1\r\nHost: floors\r\n\r\n";
/// How long the program may take to answer.
const PATIENCE: Duration = Duration::from_secs(20);
/// How often it is asked.
const EVERY: Duration = Duration::from_micros(200);
/// How long after its first answer it counts as idle.
const SETTLING: Duration = Duration::from_secs(1);

/// A running `tautline serve`, ended when it is dropped.
pub(crate) struct Program {
    child: Child,
    pub(crate) address: SocketAddr,
    /// From its start to its first answer.
    pub(crate) took: Duration,
}

impl Program {
    /// Starts it over a SQLite file in a folder and waits for its first answer.
    pub(crate) fn start(folder: &Path, database: &Path) -> anyhow::Result<Self> {
        // Free until this moment; should another program take it now, the start fails loudly.
        let address = TcpListener::bind("127.0.0.1:0")?.local_addr()?;
        let mut command = Command::new(PROGRAM);
        let log = folder.join("program.log");
        command.current_dir(folder).env_clear().stdout(Stdio::null()).stderr(File::create(&log)?);
        command.args(["serve", "--listen", &address.to_string()]);
        command.args(["--database-url", &format!("sqlite://{}", database.display())]);
        let began = Instant::now();
        let child = command.spawn()?;
        let mut program = Self { child, address, took: Duration::ZERO };
        while !answers(address) {
            if let Some(status) = program.child.try_wait()? {
                bail!("the program ended ({status}): {}", fs::read_to_string(&log)?);
            }
            if began.elapsed() > PATIENCE {
                bail!("the program does not answer: {}", fs::read_to_string(&log)?);
            }
            thread::sleep(EVERY);
        }
        program.took = began.elapsed();
        Ok(program)
    }

    /// Its memory in KiB (PSS).
    pub(crate) fn memory(&self) -> anyhow::Result<u64> {
        machine::memory_of(self.child.id())
    }

    /// Its memory in KiB (PSS) once nothing has been asked of it for a while.
    pub(crate) fn idle_memory(&self) -> anyhow::Result<u64> {
        thread::sleep(SETTLING);
        self.memory()
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        // It may have ended by itself; then there is nothing to end.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn answers(address: SocketAddr) -> bool {
    Connection::open(address)
        .is_ok_and(|mut connection| matches!(connection.exchange(HEALTHZ), Ok(200)))
}

/// The program's size on disk, in bytes.
pub(crate) fn size() -> anyhow::Result<u64> {
    Ok(fs::metadata(PROGRAM)?.len())
}
