//! Shape of the files: length, first line, names, and the words that the numerics may not use.

use super::source::is_word;
use super::{files_under, read, rust_files};

const TOO_LONG: usize = 700;
/// A table of columns is read by looking one up, not from top to bottom.
const MAY_BE_LONG: &[&str] = &["store/src/schema.rs"];
/// Names under which anything could be put.
const SAY_NOTHING: &[&str] =
    &["util", "utils", "common", "helper", "helpers", "misc", "types", "manager", "managers"];
/// The trade's words that mean nothing else in mathematics (a fit, a trial or an event does).
const TRADE: &[&str] = &[
    "archer",
    "archery",
    "arrow",
    "bow",
    "bowstring",
    "brace",
    "club",
    "coach",
    "fletching",
    "nock",
    "nocking",
    "peep",
    "plunger",
    "quiver",
    "serving",
    "shot",
    "squad",
    "strand",
    "string",
    "tiller",
    "tournament",
    "wax",
];
/// Rust's own names for text.
const RUSTS: &[&str] = &["String", "ToString", "to_string"];

fn shape_violations(path: &str, text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let lines = text.lines().count();
    if lines >= TOO_LONG && !MAY_BE_LONG.contains(&path) {
        found.push(format!("{path}: {lines} lines, split it below {TOO_LONG}"));
    }
    if !text.lines().next().is_some_and(|line| line.starts_with("//! ")) {
        found.push(format!("{path}: the first line says what the file is for, with //!"));
    }
    found
}

fn name_violation(path: &str) -> Option<String> {
    let says_nothing = |part: &str| SAY_NOTHING.contains(&part.split('.').next().unwrap_or(part));
    path.split('/')
        .any(says_nothing)
        .then(|| format!("{path}: a name under which anything could be put"))
}

/// `brace_height` and `BraceHeight` are both the words brace, height.
fn words_of(identifier: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut after_small = false;
    for letter in identifier.chars() {
        if !letter.is_ascii_alphabetic() || (letter.is_ascii_uppercase() && after_small) {
            words.push(String::new());
        }
        if letter.is_ascii_alphabetic() {
            words.last_mut().unwrap().push(letter.to_ascii_lowercase());
        }
        after_small = letter.is_ascii_lowercase();
    }
    words
}

fn trade_words(path: &str, text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let identifiers = line.split(|letter: char| !(letter.is_ascii() && is_word(letter as u8)));
        for identifier in identifiers.filter(|identifier| !RUSTS.contains(identifier)) {
            for word in words_of(identifier) {
                let one = word.strip_suffix('s').unwrap_or(&word);
                if TRADE.contains(&word.as_str()) || TRADE.contains(&one) {
                    found.push(format!("{path}:{}: \"{word}\" is a word of the trade", number + 1));
                }
            }
        }
    }
    found
}

#[test]
fn every_rust_file_is_short_and_opens_with_its_purpose() {
    let files = rust_files(".");
    super::none(
        &files.iter().flat_map(|path| shape_violations(path, &read(path))).collect::<Vec<_>>(),
    );
}

#[test]
fn a_planted_long_or_silent_file_is_caught() {
    let long = "//! x\n".repeat(700);
    assert_eq!(shape_violations("a.rs", &long), ["a.rs: 700 lines, split it below 700"]);
    assert!(shape_violations("store/src/schema.rs", &long).is_empty());
    assert!(shape_violations("a.rs", &"//! x\n".repeat(699)).is_empty());
    let silent = ["a.rs: the first line says what the file is for, with //!"];
    assert_eq!(shape_violations("a.rs", "// x\n"), silent);
    assert_eq!(shape_violations("a.rs", "\n//! x\n"), silent);
    assert_eq!(shape_violations("a.rs", ""), silent);
}

#[test]
fn every_file_name_says_something() {
    let files = files_under(".");
    super::none(&files.iter().filter_map(|path| name_violation(path)).collect::<Vec<_>>());
}

#[test]
fn a_planted_name_that_says_nothing_is_caught() {
    for path in ["api/src/utils.rs", "tests/common/mod.rs", "api/src/helpers", "types.test.js"] {
        assert!(name_violation(path).is_some(), "{path}");
    }
    for path in ["api/src/parts/list.rs", "store/src/prototypes.rs", "common_ground.rs"] {
        assert!(name_violation(path).is_none(), "{path}");
    }
}

#[test]
fn the_numerics_hold_no_word_of_the_trade() {
    // The folder comes with the first statistic; until then there is nothing in it to say.
    let files: Vec<String> =
        rust_files("domain").into_iter().filter(|path| path.contains("/numerics")).collect();
    super::none(&files.iter().flat_map(|path| trade_words(path, &read(path))).collect::<Vec<_>>());
}

#[test]
fn a_planted_word_of_the_trade_is_caught() {
    let check = |text: &str, expected: &[&str]| {
        let expected: Vec<_> = expected
            .iter()
            .map(|word| format!("a.rs:1: \"{word}\" is a word of the trade"))
            .collect();
        assert_eq!(trade_words("a.rs", text), expected, "{text}");
    };
    check("let remaining_shots = 3;", &["shots"]);
    check("/// Tells how a bowstring wears.", &["bowstring"]);
    check("struct CenterServing2;", &["serving"]);
    check("fn f(string: &str)", &["string"]);
    check("let shotCount = bow.len();", &["shot", "bow"]);
    check("x.to_string(); String::new(); ToString; elbow, snapshot, rainbow, ring", &[]);
}
