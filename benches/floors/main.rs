//! How near the server comes to its floors: what the disk and a bare web server do in the same
//! run, on the same machine. It prints ratios and judges nothing; a time that a test insisted on
//! would be a statement about the machine.
//!
//! `cargo bench --bench floors [-- --rounds 5 --seconds 2 --connections 1,32]`, and with
//! PostgreSQL as well: `tests/run --durable --with cargo bench --bench floors`.

mod bare;
mod client;
mod clubs;
mod growth;
mod machine;
mod program;
mod rounds;
mod subject;
mod table;

use std::{
    fs,
    io::{self, Write},
    path::{Path, PathBuf},
    time::Duration,
};

use anyhow::{Context, ensure};
use clap::Parser;
use program::Program;
use rounds::Plan;
use store::{DatabaseUrl, testing};
use subject::Subject;
use table::{Table, median};
use tokio::runtime::Runtime;

/// Ratios of the server to its floors.
#[derive(Parser)]
struct Args {
    /// How often everything is measured.
    #[arg(long, default_value_t = 5)]
    rounds: u32,
    /// For how many seconds each time.
    #[arg(long, default_value_t = 2.0)]
    seconds: f64,
    /// At how many connections at once, such as 1,32.
    #[arg(long, value_delimiter = ',', default_value = "1,32")]
    connections: Vec<usize>,
    /// Instead: how answers grow with the ledger, at these numbers of logs, such as
    /// 10000,100000,1000000.
    #[arg(long, value_delimiter = ',')]
    growth: Vec<u64>,
    /// What cargo passes to a benchmark, and not to a test.
    #[arg(long, hide = true)]
    bench: bool,
}

fn main() -> anyhow::Result<()> {
    let args = Args::parse();
    let mut out = io::stdout();
    if !args.bench {
        writeln!(out, "Nothing was measured: this is run with cargo bench --bench floors.")?;
        return Ok(());
    }
    ensure!(args.rounds > 0, "--rounds must be at least 1");
    ensure!(!args.connections.contains(&0), "--connections must be at least 1 each");
    let folder = Folder::make()?;
    let plan = Plan {
        rounds: args.rounds,
        lasting: Duration::try_from_secs_f64(args.seconds)?,
        connections: args.connections,
        folder: folder.0.clone(),
    };
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    if args.growth.is_empty() {
        return run(&mut out, &runtime, &plan);
    }
    writeln!(out, "Machine: {}.", machine::words(&plan.folder)?)?;
    let with_postgres = postgres(&mut out)?.is_some();
    let both: [growth::Backend; 2] =
        [("SQLite", testing::sqlite), ("PostgreSQL", testing::postgres)];
    let databases = if with_postgres { &both[..] } else { &both[..1] };
    growth::run(&mut out, &runtime, &plan, &args.growth, databases)
}

fn run(out: &mut impl Write, runtime: &Runtime, plan: &Plan) -> anyhow::Result<()> {
    writeln!(out, "Machine: {}.", machine::words(&plan.folder)?)?;
    writeln!(out, "{}", how(plan))?;
    let most = plan.connections.iter().copied().max().unwrap_or(1);
    let database = plan.folder.join("club.db");
    let url = DatabaseUrl::Sqlite(database.display().to_string());
    let mut subjects = vec![Subject::start(runtime, "SQLite", &url, most)?];
    let postgres = postgres(out)?;
    if let Some(fresh) = &postgres {
        subjects.push(Subject::start(runtime, "PostgreSQL", &fresh.url, most)?);
    }
    let samples = rounds::measure(runtime, plan, &mut subjects)?;
    for subject in &subjects {
        subject.check_counts(runtime)?;
    }
    let names: Vec<&str> = subjects.iter().map(|subject| subject.name).collect();
    writeln!(out, "\n{}", Table::of(&samples, &names))?;
    writeln!(out, "Every answer was from 200 to 299, and each log was counted exactly once.")?;
    write_program(out, plan, &database, &subjects)?;
    writeln!(out, "Load average at the end: {}.", machine::load_average()?)?;
    for subject in subjects {
        subject.stop(runtime);
    }
    Ok(())
}

fn how(plan: &Plan) -> String {
    format!(
        "{} rounds of {:?} for each line, one after the other; medians, with (least..greatest) of \
         the rounds. Ratios are to the floor of the same round.\n\
         Client and servers share the cores and this process: each connection is a thread that \
         sends its next request when it has its answer. CPU us is processor time an answer of \
         this process without the client's threads, and without PostgreSQL.\n\
         Logs go to {} bows a connection, each with a string and a serving. What is due: {} bows \
         of 3 parts with {} logs each. Answers are not compressed. SQLite runs with \
         synchronous=FULL.",
        plan.rounds,
        plan.lasting,
        clubs::BOWS_EACH,
        clubs::DUE_BOWS,
        clubs::LOGS_EACH
    )
}

/// A fresh database on the PostgreSQL that the environment names; none if it names none.
fn postgres(out: &mut impl Write) -> anyhow::Result<Option<testing::Fresh>> {
    #[expect(clippy::disallowed_methods, reason = "a benchmark's own setting, not the program's")]
    let server = std::env::var("TAUTLINE_TEST_POSTGRES_URL").unwrap_or_default();
    if server.is_empty() {
        writeln!(
            out,
            "PostgreSQL was NOT measured: TAUTLINE_TEST_POSTGRES_URL is not set. \
             tests/run --durable --with cargo bench --bench floors sets it."
        )?;
        return Ok(None);
    }
    let fresh = testing::postgres();
    let setting = |name: &str| {
        let found = fresh.texts(&format!("SELECT current_setting('{name}') AS text"));
        found.into_iter().next().with_context(|| format!("PostgreSQL has no setting {name}"))
    };
    for name in ["fsync", "synchronous_commit", "full_page_writes"] {
        let set = setting(name)?;
        ensure!(set == "on", "PostgreSQL does not wait for the disk ({name} is {set}): --durable");
    }
    let folder = setting("data_directory")?;
    writeln!(
        out,
        "PostgreSQL {} waits for the disk; its folder is on {}.",
        setting("server_version")?,
        machine::file_system(Path::new(&folder))?
    )?;
    Ok(Some(fresh))
}

/// Starts of which the median is told.
const STARTS: usize = 5;
const MIB: f64 = 1_024.0 * 1_024.0;

/// Measures the program itself, over a SQLite file: a new one, then the one filled before.
fn write_program(
    out: &mut impl Write,
    plan: &Plan,
    filled: &Path,
    subjects: &[Subject],
) -> anyhow::Result<()> {
    let new = plan.folder.join("new.db");
    let ms = |took: Duration| took.as_secs_f64() * 1_000.0;
    let first = ms(Program::start(&plan.folder, &new)?.took);
    let mut later = Vec::new();
    for _ in 0..STARTS {
        later.push(ms(Program::start(&plan.folder, &new)?.took));
    }
    let program = Program::start(&plan.folder, filled)?;
    let idle = program.idle_memory()?;
    let most = plan.connections.iter().copied().max().unwrap_or(1);
    if let Some(subject) = subjects.first() {
        let asks = subject.asks(program.address)?;
        rounds::checked(program.address, most, plan.lasting, &asks.log)?;
        rounds::checked(program.address, most, plan.lasting, &asks.due)?;
    }
    let loaded = program.memory()?;
    let mib = |kib: u64| u32::try_from(kib).map(|kib| f64::from(kib) / 1_024.0);
    writeln!(
        out,
        "The program: {:.1} MiB on disk; first answer {first:.1} ms after its start on a new \
         SQLite file, {:.1} ms on one with the schema (median of {STARTS}); memory (PSS) {:.1} \
         MiB idle, {:.1} MiB after {:?} each of both loads at {most} connections.",
        f64::from(u32::try_from(program::size()?)?) / MIB,
        median(&later),
        mib(idle)?,
        mib(loaded)?,
        plan.lasting,
    )?;
    Ok(())
}

/// The folder of the databases, removed at the end.
struct Folder(PathBuf);

impl Folder {
    fn make() -> anyhow::Result<Self> {
        let name = format!("floors-{}", std::process::id());
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        fs::create_dir_all(&folder)?;
        Ok(Self(folder))
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What is left of it lies in the target folder and harms nobody.
        let _ = fs::remove_dir_all(&self.0);
    }
}
