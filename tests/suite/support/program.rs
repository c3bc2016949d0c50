//! The program itself, started as an operator would, with nothing set but what the test sets.

use std::{
    path::Path,
    process::{Child, Command, ExitStatus, Stdio},
};

use super::lines::{Lines, until};

/// What every worker of a test is told, besides its database, its relay and its lease.
pub(crate) const FOR_WORKERS: &[(&str, &str)] = &[
    ("TAUTLINE_MAIL_FROM", "bench@tautline.example"),
    ("TAUTLINE_MAIL_PER_MINUTE", "10000"),
    ("TAUTLINE_SECRET", "an invented secret of thirty-two bytes or more"),
];

/// A running program; it does not outlive the test.
pub(crate) struct Program {
    child: Child,
    stdout: Lines,
    stderr: Lines,
}

/// What is left of a program that has ended.
#[derive(Debug)]
pub(crate) struct Finished {
    pub(crate) code: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

impl Program {
    /// Starts it in a folder.
    pub(crate) fn start(folder: &Path, settings: &[(&str, &str)], arguments: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_tautline"))
            .args(arguments)
            .env_clear()
            .envs(settings.iter().copied())
            .current_dir(folder)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let stdout = Lines::of(child.stdout.take().unwrap());
        let stderr = Lines::of(child.stderr.take().unwrap());
        Self { child, stdout, stderr }
    }

    /// Starts it and waits for its end.
    #[track_caller]
    pub(crate) fn run(folder: &Path, settings: &[(&str, &str)], arguments: &[&str]) -> Finished {
        Self::start(folder, settings, arguments).end()
    }

    /// What it prints.
    pub(crate) fn stdout(&self) -> &Lines {
        &self.stdout
    }

    /// What it complains about.
    pub(crate) fn stderr(&self) -> &Lines {
        &self.stderr
    }

    /// Waits until it ends of itself.
    #[track_caller]
    pub(crate) fn end(mut self) -> Finished {
        let status: ExitStatus = until("the program to end", || self.child.try_wait().unwrap());
        Finished { code: status.code(), stdout: self.stdout.whole(), stderr: self.stderr.whole() }
    }

    /// Asks it to stop, as an operator's system would, and waits for its end.
    #[track_caller]
    pub(crate) fn terminate(self) -> Finished {
        self.signal("TERM");
        self.end()
    }

    /// Stops it where it is, as a machine that sleeps would; time goes on without it.
    pub(crate) fn pause(&self) {
        self.signal("STOP");
    }

    /// Lets it go on from where it was paused.
    pub(crate) fn go_on(&self) {
        self.signal("CONT");
    }

    fn signal(&self, signal: &str) {
        let pid = self.child.id().to_string();
        let words = ["-c", "kill -\"$0\" \"$1\"", signal, &pid];
        assert!(Command::new("sh").args(words).status().unwrap().success());
    }

    /// Kills it: it can neither notice nor prevent it.
    pub(crate) fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        if self.child.try_wait().is_ok_and(|ended| ended.is_none()) {
            drop(self.child.kill());
            drop(self.child.wait());
        }
    }
}

impl Finished {
    /// Checks that it ended as a failure, naming each of these.
    #[track_caller]
    pub(crate) fn refuses(&self, named: &[&str]) {
        assert_eq!(self.code, Some(1), "{self:?}");
        for name in named {
            assert!(self.stderr.contains(name), "{name:?} is not in {self:?}");
        }
        assert!(!self.stderr.contains("panicked"), "{self:?}");
    }
}
