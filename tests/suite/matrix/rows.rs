//! One row for each operation: how it is asked for, and how each caller is answered.
//!
//! The answers of a row stand in the order of `callers::OURS`, a letter each: `+` is done (2xx), `-` is
//! done too, but shows nothing of what the row is about; `1` is 401, `3` is 403, `4` is 404, `2` is 422.

mod club;
mod logs;
mod open;
mod workshop;

use super::{asking::Ask, scene::Scene};

/// A line of the matrix.
pub(super) struct Row {
    pub(super) operation: &'static str,
    /// Of whoever has no proof that holds, of the two scripts, and of the six people.
    answers: [&'static str; 3],
    /// What strangers are answered besides 403, 404, 422 and what is their own.
    pub(super) to_strangers: Option<u16>,
    pub(super) ask: fn(&Scene<'_>) -> Ask,
}

impl Row {
    /// The answers, a letter for each caller.
    pub(super) fn answers(&self) -> Vec<char> {
        self.answers.concat().chars().collect()
    }
}

/// All rows.
pub(super) fn all() -> Vec<Row> {
    // What needs no proof comes last: it takes its time, and tokens run out meanwhile.
    [club::rows(), workshop::rows(), logs::rows(), open::rows()].into_iter().flatten().collect()
}

/// Whoever is a member.
const ANY: &str = "++++++";
/// Coaches and owners.
const COACHES: &str = "333+++";
/// Owners.
const OWNERS: &str = "33333+";
/// Who shoots, keeps or owns a bow, the coach of their squad, and owners.
const THEIR_BOW: &str = "+3++3+";
/// A list of that.
const LIST_OF_THEIR_BOWS: &str = "+-++-+";
/// The coach of a bow's people, and owners.
const COACH_OF_BOW: &str = "333+3+";
/// The archer who entered something, the coach of their squad, and owners.
const WHO_ENTERED: &str = "+33+3+";
/// Who is in a squad or coaches it, and owners.
const THEIR_SQUAD: &str = "+33+3+";

const NO_PROOF: &str = "1111";

type Asking = fn(&Scene<'_>) -> Ask;

/// A row of what reads: a script that reads may too.
fn reads(operation: &'static str, six: &'static str, ask: Asking) -> Row {
    Row { operation, answers: [NO_PROOF, "3+", six], to_strangers: None, ask }
}

/// A row of what writes: no script may.
fn writes(operation: &'static str, six: &'static str, ask: Asking) -> Row {
    Row { operation, answers: [NO_PROOF, "33", six], to_strangers: None, ask }
}

/// A row of what logs: a script that logs may too.
fn logs(operation: &'static str, six: &'static str, ask: Asking) -> Row {
    Row { operation, answers: [NO_PROOF, "+3", six], to_strangers: None, ask }
}

/// A row of what needs no proof: all are answered alike, strangers too.
fn open(operation: &'static str, all: [&'static str; 3], status: u16, ask: Asking) -> Row {
    Row { operation, answers: all, to_strangers: Some(status), ask }
}
