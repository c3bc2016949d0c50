//! The two databases have the same migrations, and every index begins with the club.
//!
//! A key or index that does not begin with `club_id` reads across clubs, or cannot be used within
//! one; where that is meant, one of its lines says why: `-- cross-club: <reason>`.

use super::source::{blank_sql, closing, is_marked, line_of, words};
use super::{files_under, read};
use std::collections::BTreeMap;

const FOLDERS: [&str; 2] = ["migrations/sqlite", "migrations/postgres"];
const MARK: &str = "-- cross-club:";

/// Migrations of one database: name of the folder, and its files.
fn by_name(folder: &str, files: &[String]) -> BTreeMap<String, Vec<String>> {
    let mut found = BTreeMap::<String, Vec<String>>::new();
    for file in files.iter().filter_map(|file| file.strip_prefix(folder)?.strip_prefix('/')) {
        if let Some((name, inside)) = file.split_once('/') {
            found.entry(name.to_owned()).or_default().push(inside.to_owned());
        }
    }
    found
}

fn twin_violations(files: &[String]) -> Vec<String> {
    let both = FOLDERS.map(|folder| by_name(folder, files));
    let mut found = Vec::new();
    for (mine, other) in [(0, 1), (1, 0)] {
        for (name, inside) in &both[mine] {
            if !both[other].contains_key(name) {
                found.push(format!("{}/{name} has no twin in {}", FOLDERS[mine], FOLDERS[other]));
            }
            for wanted in ["up.sql", "down.sql"] {
                if !inside.iter().any(|file| file == wanted) {
                    found.push(format!("{}/{name} has no {wanted}", FOLDERS[mine]));
                }
            }
        }
    }
    found
}

/// Keys and indexes whose first column is not `club_id`. A `UNIQUE` makes an index as well.
fn cross_club_indexes(path: &str, text: &str) -> Vec<String> {
    // Upper case keeps every position.
    let code = blank_sql(text).to_ascii_uppercase();
    let keys = ["PRIMARY", "UNIQUE"].iter().flat_map(|word| words(&code, word));
    let keys = keys.filter_map(|at| key_columns(&code, at));
    let indexes = words(&code, "INDEX").into_iter().filter_map(|at| index_columns(&code, at));
    let mut found: Vec<_> = keys.chain(indexes).collect();
    found.sort_unstable();
    found
        .into_iter()
        .filter(|(from, to, first)| first != "CLUB_ID" && !is_marked(text, *from, *to, MARK))
        .map(|(from, ..)| format!("{path}:{}: does not begin with club_id", line_of(text, from)))
        .collect()
}

/// Where a key stands (from, to) and its first column; nothing when the word is part of `CREATE
/// UNIQUE INDEX`.
fn key_columns(code: &str, at: usize) -> Option<(usize, usize, String)> {
    let listed = ["PRIMARY", "KEY", "UNIQUE", "NULLS", "NOT", "DISTINCT"];
    let mut after = at;
    for word in code[at..].split_inclusive(|letter: char| !letter.is_ascii_alphabetic()) {
        let bare = word.trim_end_matches(|letter: char| !letter.is_ascii_alphabetic());
        if bare == "INDEX" {
            return None;
        }
        if !bare.is_empty() && !listed.contains(&bare) {
            break;
        }
        let end = after + word.len();
        after = if word.ends_with('(') { end - 1 } else { end };
        if word.ends_with('(') {
            return Some((at, closing(code, after)?, first_column(&code[after + 1..])));
        }
        if word.ends_with([',', ')', ';']) {
            break;
        }
    }
    Some((at, at, first_column(&code[column_start(code, at)..])))
}

fn index_columns(code: &str, at: usize) -> Option<(usize, usize, String)> {
    let begins = code[..at].trim_end();
    if !(begins.ends_with("CREATE") || begins.ends_with("UNIQUE")) {
        return None; // `DROP INDEX`
    }
    let on = at + words(&code[at..], "ON").first()?;
    let open = on + code[on..].find('(')?;
    Some((at, closing(code, open)?, first_column(&code[open + 1..])))
}

/// Where the column's own line of the table begins: after the last comma or bracket that is not
/// inside a pair of brackets.
fn column_start(code: &str, at: usize) -> usize {
    let mut depth = 0_usize;
    for (position, byte) in code.bytes().enumerate().take(at).collect::<Vec<_>>().into_iter().rev()
    {
        match byte {
            b')' => depth += 1,
            b'(' if depth > 0 => depth -= 1,
            b'(' | b',' | b';' if depth == 0 => return position + 1,
            _ => {}
        }
    }
    0
}

fn first_column(code: &str) -> String {
    let code = code.trim_start_matches(|letter: char| letter.is_whitespace() || letter == '"');
    code.chars().take_while(|letter| letter.is_ascii_alphanumeric() || *letter == '_').collect()
}

#[test]
fn both_databases_have_the_same_migrations_with_up_and_down() {
    let files = files_under("migrations");
    for folder in FOLDERS {
        assert!(!by_name(folder, &files).is_empty(), "{folder} holds no migration");
    }
    super::none(&twin_violations(&files));
}

#[test]
fn a_planted_migration_without_a_twin_is_caught() {
    let check = |files: &[&str], expected: &[&str]| {
        let files: Vec<_> = files.iter().map(|file| format!("migrations/{file}")).collect();
        assert_eq!(twin_violations(&files), expected, "{files:?}");
    };
    let whole = ["sqlite/1_a/up.sql", "sqlite/1_a/down.sql", "postgres/1_a/up.sql"];
    check(&[whole.as_slice(), &["postgres/1_a/down.sql", "README.md"]].concat(), &[]);
    check(&whole, &["migrations/postgres/1_a has no down.sql"]);
    check(
        &["sqlite/1_a/up.sql", "sqlite/1_a/down.sql"],
        &["migrations/sqlite/1_a has no twin in migrations/postgres"],
    );
    check(
        &["postgres/1_b/up.sql", "postgres/1_b/down.sql"],
        &["migrations/postgres/1_b has no twin in migrations/sqlite"],
    );
}

#[test]
fn every_key_and_index_begins_with_the_club_or_says_why() {
    let files = files_under("migrations");
    let files: Vec<_> = files.iter().filter(|file| file.ends_with("/up.sql")).collect();
    assert!(!files.is_empty(), "no up.sql under migrations");
    super::none(
        &files.iter().flat_map(|path| cross_club_indexes(path, &read(path))).collect::<Vec<_>>(),
    );
}

#[test]
fn a_planted_index_across_clubs_is_caught() {
    let check = |sql: &str, lines: &[usize]| {
        let expected: Vec<_> = lines
            .iter()
            .map(|line| format!("up.sql:{line}: does not begin with club_id"))
            .collect();
        assert_eq!(cross_club_indexes("up.sql", sql), expected, "{sql}");
    };
    check("CREATE INDEX a ON bows (name);", &[1]);
    check(
        "create unique index if not exists a\n  on bows using btree\n  (lower(name), club_id);",
        &[1],
    );
    check("CREATE INDEX a ON bows (club_id, name);\nCREATE INDEX b ON bows (name, club_id);", &[2]);
    check("CREATE TABLE t (\n  id uuid PRIMARY KEY,\n  club_id uuid\n);", &[2]);
    check("CREATE TABLE t (\n  x numeric(3, 1) CHECK (x > 0) UNIQUE,\n  club_id uuid);", &[2]);
    check(
        "CREATE TABLE t (a int,\n  PRIMARY KEY (id, club_id),\n  UNIQUE NULLS NOT DISTINCT (a));",
        &[2, 3],
    );
    check("CREATE TABLE t (\n  id int PRIMARY KEY -- cross-club:\n);", &[2]);
    check("CREATE INDEX a ON t (b); -- (club_id)", &[1]);
    check("CREATE TABLE t (\n  a int, CONSTRAINT c UNIQUE (\"a\", club_id));", &[2]);
}

#[test]
fn an_index_that_begins_with_the_club_or_says_why_passes() {
    let passes = |sql: &str| {
        assert_eq!(cross_club_indexes("up.sql", sql), Vec::<String>::new(), "{sql}");
    };
    passes("CREATE TABLE t (\n  club_id uuid PRIMARY KEY,\n  name text DEFAULT 'UNIQUE (x)');");
    passes("CREATE TABLE t (a int, PRIMARY KEY (club_id, a), UNIQUE (\"club_id\", b));");
    passes("CREATE TABLE clubs (\n  id uuid PRIMARY KEY -- cross-club: the club itself\n);");
    passes("CREATE UNIQUE INDEX a ON t (\n  hash -- cross-club: a link names no club\n);");
    passes("DROP INDEX a; -- not UNIQUE\nCREATE INDEX b ON t (club_id);");
}
