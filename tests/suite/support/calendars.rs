//! Calendars and pages as others read them: programs in two languages that share no code with ours.

use std::{
    fs,
    path::{Path, PathBuf},
    process::{Command, Output},
};

use serde_json::Value;

use super::{Scratch, tool};

/// A program of `tests/tools` that runs in Node.js.
fn node(script: &str) -> Command {
    let mut node = Command::new("node");
    node.arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/tools").join(script));
    node
}

/// What a program prints.
#[track_caller]
fn printed(output: &Output) -> Vec<Value> {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// The texts as files of a folder, in their order.
fn files(folder: &Scratch, texts: &[String], ending: &str) -> Vec<PathBuf> {
    let write = |(number, text): (usize, &String)| {
        let path = folder.path().join(format!("{number:04}.{ending}"));
        fs::write(&path, text).unwrap();
        path
    };
    texts.iter().enumerate().map(write).collect()
}

/// Calendars as both readers have them. Both read the same, and neither finds anything wrong.
#[track_caller]
pub(crate) fn read_calendars(texts: &[String]) -> Vec<Value> {
    if texts.is_empty() {
        return Vec::new();
    }
    let folder = Scratch::new();
    let paths = files(&folder, texts, "ics");
    let ours = printed(&node("read_calendar.mjs").args(&paths).output().unwrap());
    let mut theirs = printed(&tool("read_calendar.py").args(&paths).output().unwrap());
    assert_eq!((ours.len(), theirs.len()), (texts.len(), texts.len()));
    for (text, calendar) in texts.iter().zip(&mut theirs) {
        let problems = calendar.as_object_mut().unwrap().remove("problems").unwrap();
        assert_eq!(problems, Value::Array(Vec::new()), "{text}");
    }
    assert_eq!(ours, theirs);
    ours
}

/// What is wrong with pages, by rule and place; a list for each.
#[track_caller]
pub(crate) fn html_problems(pages: &[String]) -> Vec<Value> {
    if pages.is_empty() {
        return Vec::new();
    }
    let folder = Scratch::new();
    let paths = files(&folder, pages, "html");
    let found = printed(&node("check_html.mjs").args(&paths).output().unwrap());
    assert_eq!(found.len(), pages.len());
    found.into_iter().map(|mut one| one["problems"].take()).collect()
}
