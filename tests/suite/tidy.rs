//! Checks on the house itself: what the documents say about its shape, a test holds.
//!
//! Each rule is a function over text or paths that returns what it found, so that the same function
//! reads the real tree and, beside it, a planted violation. Nothing here may know how the program
//! behaves; it never runs it.
#![cfg(test)]

mod documents;
mod files;
mod jobs;
mod layers;
mod migrations;
mod ordering;
mod source;

use std::path::Path;

/// The repository's folder.
fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A file of the repository; a missing one is a failed test, never an empty text.
fn read(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// Folders that hold no file of ours, wherever they are.
const FOREIGN: &[&str] = &["node_modules", "__pycache__"];
/// What building and running leaves in the repository's folder.
const LEFT_BY_RUNS: &[&str] = &["target", "tautline-demo", "mail"];

/// Every file under `folder`, as sorted paths relative to the repository; hidden folders are left out.
fn files_under(folder: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut ahead = vec![root().join(folder)];
    while let Some(folder) = ahead.pop() {
        let entries = std::fs::read_dir(&folder)
            .unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
        for entry in entries {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy();
            let left_by_runs = path.parent() == Some(root()) && LEFT_BY_RUNS.contains(&&*name);
            if name.starts_with('.') || FOREIGN.contains(&&*name) || left_by_runs {
                continue;
            }
            if path.is_dir() {
                ahead.push(path);
            } else {
                found.push(relative(&path));
            }
        }
    }
    found.sort();
    found
}

fn relative(path: &Path) -> String {
    path.strip_prefix(root()).unwrap().to_string_lossy().into_owned()
}

fn rust_files(folder: &str) -> Vec<String> {
    let is_rust = |path: &String| Path::new(path).extension().is_some_and(|ending| ending == "rs");
    let files: Vec<_> = files_under(folder).into_iter().filter(is_rust).collect();
    assert!(!files.is_empty(), "no Rust file under {folder}: the check would read nothing");
    files
}

/// Fails with every violation on a line of its own.
#[track_caller]
fn none(violations: &[String]) {
    assert!(violations.is_empty(), "\n{}\n", violations.join("\n"));
}
