//! A real SMTP server in a process of its own, and a stranger's reading of what it received.

use std::{
    io::Write,
    path::{Path, PathBuf},
    process::{Child, ChildStdin, Command, Stdio},
};

use serde_json::Value;

use super::{lines::Lines, scratch::Scratch};

pub(crate) struct SmtpServer {
    process: Child,
    orders: ChildStdin,
    lines: Lines,
    folder: Scratch,
    /// Where it listens, as the program's setting.
    pub(crate) url: String,
}

impl SmtpServer {
    /// Starts it in one of the modes of `tests/tools/smtp_server.py`.
    pub(crate) fn start(mode: &str) -> Self {
        Self::start_with(mode, Scratch::new(), &[])
    }

    /// The same with further arguments, and with a folder in which something lies already.
    pub(crate) fn start_with(mode: &str, folder: Scratch, arguments: &[&str]) -> Self {
        let mut process = tool("smtp_server.py")
            .args(["--obey-stdin", "--mode", mode, "--dir"])
            .arg(folder.path())
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let orders = process.stdin.take().unwrap();
        let lines = Lines::of(process.stdout.take().unwrap());
        let listening = lines.wait_for("listening ");
        let url = format!("smtp://{}", listening.trim_start_matches("listening "));
        Self { process, orders, lines, folder, url }
    }

    /// Where it listens.
    pub(crate) fn port(&self) -> u16 {
        self.url.rsplit(':').next().unwrap().parse().unwrap()
    }

    /// Ends it. What it received stays, for one that is started there and on that port.
    pub(crate) fn stop(mut self) -> (Scratch, u16) {
        let (port, nothing) = (self.port(), Scratch::new());
        (std::mem::replace(&mut self.folder, nothing), port)
    }

    /// Changes the mode.
    pub(crate) fn turn_to(&mut self, mode: &str) {
        writeln!(self.orders, "mode {mode}").unwrap();
        self.lines.wait_for(&format!("mode {mode}"));
    }

    /// What it prints.
    pub(crate) fn lines(&self) -> &Lines {
        &self.lines
    }

    /// Every mail it has received, as `tests/tools/read_mail.py` reads it, oldest first.
    pub(crate) fn mails(&self) -> Vec<Value> {
        read_mails(self.folder.path())
    }

    /// Their envelopes, in the same order.
    pub(crate) fn envelopes(&self) -> Vec<Value> {
        let read = |path: &PathBuf| {
            serde_json::from_slice(&std::fs::read(path.with_extension("json")).unwrap()).unwrap()
        };
        mail_files(self.folder.path()).iter().map(read).collect()
    }
}

impl Drop for SmtpServer {
    fn drop(&mut self) {
        drop(self.process.kill());
        drop(self.process.wait());
    }
}

/// Every mail that lies in a folder, as `tests/tools/read_mail.py` reads it, by file name.
pub(crate) fn read_mails(folder: &Path) -> Vec<Value> {
    let files = mail_files(folder);
    if files.is_empty() {
        return Vec::new();
    }
    let output = tool("read_mail.py").args(&files).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn mail_files(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| path.extension().is_some_and(|ending| ending == "eml"));
    files.sort();
    files
}

pub(crate) fn tool(tool: &str) -> Command {
    let mut command = python();
    command.arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/tools").join(tool));
    command
}

/// The Python that has what the test tools need.
pub(crate) fn python() -> Command {
    #[expect(clippy::disallowed_methods, reason = "a test's own setting, not the program's")]
    let python = std::env::var("TAUTLINE_TEST_PYTHON").unwrap_or_else(|_unset| {
        panic!("TAUTLINE_TEST_PYTHON is not set; run the tests with tests/run, which makes it")
    });
    Command::new(python)
}
