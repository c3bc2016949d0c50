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

use std::path::{Path, PathBuf};

/// The repository's folder.
fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A file of the repository; a missing one is a failed test, never an empty text.
fn read(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// Folders that hold no file of ours.
const FOREIGN: &[&str] = &["target", "node_modules", "__pycache__", "tautline-demo", "mail"];

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
            let at_root = path.parent() == Some(root());
            if name.starts_with('.') || name == "__pycache__" {
                continue;
            }
            if path.is_dir() {
                if !(at_root && FOREIGN.contains(&name.as_ref())) && name != "node_modules" {
                    ahead.push(path);
                }
            } else {
                found.push(relative(&path));
            }
        }
    }
    found.sort();
    found
}

fn relative(path: &PathBuf) -> String {
    path.strip_prefix(root()).unwrap().to_string_lossy().into_owned()
}

fn rust_files(folder: &str) -> Vec<String> {
    let files: Vec<_> =
        files_under(folder).into_iter().filter(|path| path.ends_with(".rs")).collect();
    assert!(!files.is_empty(), "no Rust file under {folder}: the check would read nothing");
    files
}

/// Fails with every violation on a line of its own.
#[track_caller]
fn none(violations: &[String]) {
    assert!(violations.is_empty(), "\n{}\n", violations.join("\n"));
}
