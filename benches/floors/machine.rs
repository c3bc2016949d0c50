//! What the machine is and what it spent, as Linux tells it in /proc.

use std::{
    fs,
    path::{Path, PathBuf},
    thread,
    time::Duration,
};

use anyhow::Context;

/// The machine in words.
pub(crate) fn words(folder: &Path) -> anyhow::Result<String> {
    let cores = thread::available_parallelism()?;
    let processor = field("/proc/cpuinfo", "model name")?;
    let memory = kibibytes("/proc/meminfo", "MemTotal")?;
    let kernel = fs::read_to_string("/proc/sys/kernel/osrelease")?;
    Ok(format!(
        "{cores} cores ({processor}), {} MiB of memory, Linux {}, load average {}; \
         the database's folder is on {}",
        memory / 1_024,
        kernel.trim(),
        load_average()?,
        file_system(folder)?
    ))
}

/// How many processes wanted a core in the last minute.
pub(crate) fn load_average() -> anyhow::Result<String> {
    let text = fs::read_to_string("/proc/loadavg")?;
    Ok(text.split(' ').next().unwrap_or_default().to_owned())
}

/// The kind of file system that a folder is on.
pub(crate) fn file_system(folder: &Path) -> anyhow::Result<String> {
    let folder = folder.canonicalize().unwrap_or_else(|_unreadable| PathBuf::from(folder));
    let mounts = fs::read_to_string("/proc/mounts")?;
    let mounts = mounts.lines().filter_map(|line| {
        let mut words = line.split(' ').skip(1);
        Some((words.next()?, words.next()?))
    });
    let (_, kind) = mounts
        .filter(|(at, _)| folder.starts_with(at))
        .max_by_key(|(at, _)| at.len())
        .context("no file system holds the folder")?;
    Ok(kind.to_owned())
}

/// The memory a process uses, in KiB, with its share of what it shares (PSS).
pub(crate) fn memory_of(process: u32) -> anyhow::Result<u64> {
    kibibytes(&format!("/proc/{process}/smaps_rollup"), "Pss")
}

/// The kernel counts in hundredths of a second here, whatever its own tick is.
const TICK: Duration = Duration::from_millis(10);

/// Processor time of all threads of this process so far.
pub(crate) fn processor_time_of_process() -> anyhow::Result<Duration> {
    let text = fs::read_to_string("/proc/self/stat")?;
    // The second field is the program's name, in brackets; user and system time are 14 and 15.
    let rest = text.rsplit_once(')').context("no name in /proc/self/stat")?.1;
    let ticks = rest.split_ascii_whitespace().skip(11).take(2).map(str::parse::<u32>);
    Ok(TICK * ticks.sum::<Result<u32, _>>()?)
}

/// Processor time of this thread so far.
pub(crate) fn processor_time_of_thread() -> anyhow::Result<Duration> {
    let text = fs::read_to_string("/proc/thread-self/schedstat")?;
    let first = text.split(' ').next().unwrap_or_default();
    Ok(Duration::from_nanos(first.parse()?))
}

fn kibibytes(path: &str, name: &str) -> anyhow::Result<u64> {
    let value = field(path, name)?;
    Ok(value.trim_end_matches(" kB").parse()?)
}

fn field(path: &str, name: &str) -> anyhow::Result<String> {
    let text = fs::read_to_string(path).with_context(|| path.to_owned())?;
    let value = text.lines().find_map(|line| {
        let (found, value) = line.split_once(':')?;
        (found.trim() == name).then(|| value.trim().to_owned())
    });
    value.with_context(|| format!("no {name} in {path}"))
}
