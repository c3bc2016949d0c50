//! The club's record as files: out of one database and into another, and every way in which a file of
//! somebody else's can be wrong.

mod at_once;
mod command;
mod faults;
mod import;
mod owners;
mod round_trip;
mod trace;

use serde_json::Value;

use crate::support::{Answer, Person};

/// Sends a file; `query` says into which table, and how.
#[track_caller]
fn send(by: &Person, query: &str, file: impl AsRef<[u8]>) -> Answer {
    by.send("POST", &format!("/api/v1/import?{query}"), Some(("text/csv", file.as_ref())))
}

/// A table as a file.
#[track_caller]
fn export(by: &Person, table: &str) -> String {
    let answer = by.get(&format!("/export?table={table}"));
    assert_eq!(answer.status, 200, "{answer}");
    assert_eq!(answer.header("content-type"), "text/csv; charset=utf-8");
    assert!(answer.header("content-disposition").contains(&format!("{table}.csv")), "{answer}");
    String::from_utf8(answer.body).unwrap()
}

/// How many rows were read, were new, were there already, and were refused.
fn rows(report: &Value) -> [u64; 4] {
    let rows = &report["rows"];
    ["read", "new", "already_there", "refused"].map(|name| rows[name].as_u64().unwrap())
}

/// The tables, in the order in which they are brought in.
const TABLES: [&str; 7] =
    ["members", "bows", "parts", "fittings", "upkeep", "incidents", "shot_logs"];
