//! Runs the matrix on one database, and lists everything that is not as it should be.

use std::collections::BTreeSet;

use jiff::SignedDuration;
use serde_json::json;
use store::testing::Fresh;
use uuid::Uuid;

use super::{
    asking::{Ask, Operation, operations},
    callers::{MARK, OURS, People, Proofs},
    ours::{Ours, leaks},
    recorded::{UNRECORDED, is_recorded},
    rows::{self, Row},
    scene::Scene,
};
use crate::support::{Answer, Club, Person};

/// What was asked.
#[derive(Default)]
pub(super) struct Tally {
    pub(super) operations: usize,
    pub(super) callers: usize,
    pub(super) strangers: usize,
    pub(super) left_out: usize,
    pub(super) requests: usize,
    pub(super) leaks: usize,
}

/// Between two requests without a proof: nobody is held for one who tries and tries.
const PAUSE: SignedDuration = SignedDuration::from_mins(21);

struct Matrix<'a> {
    scene: Scene<'a>,
    ours: Ours<'a>,
    /// Whoever can be asked about here, by their place in a row's answers.
    callers: Vec<(usize, &'a Person)>,
    strangers: [(&'static str, &'a Person); 6],
    tally: Tally,
    /// Operations that were done and left a record.
    recorded: BTreeSet<String>,
    wrong: Vec<String>,
}

/// Asks everything that everybody could.
#[track_caller]
pub(super) fn on(database: &Fresh) -> Tally {
    let (operations, rows) = (operations(), rows::all());
    check_rows(&operations, &rows);
    let club = Club::start(database);
    mark(&club);
    let proofs = Proofs::of(&club, &operations);
    let people = People::of(&club, club.owner(), MARK);
    let neighbour = club.neighbour();
    let theirs = People::of(&club, &neighbour, "Elsewhere");
    let proven = people.six(club.owner()).map(Some);
    let places = proofs.six().into_iter().chain(proven).enumerate();
    let callers: Vec<_> = places.filter_map(|(place, who)| Some((place, who?))).collect();
    let names: Vec<_> = OURS[6..].to_vec();
    let strangers = std::array::from_fn(|n| (names[n], theirs.six(&neighbour)[n]));
    let tally = Tally {
        operations: operations.len(),
        callers: callers.len(),
        strangers: strangers.len(),
        left_out: OURS.len() - callers.len(),
        ..Tally::default()
    };
    let (scene, ours) = (Scene::of(&club, &people), Ours::of(database, club.id));
    let (recorded, wrong) = (BTreeSet::new(), Vec::new());
    let mut matrix = Matrix { scene, ours, callers, strangers, tally, recorded, wrong };
    for row in &rows {
        let operation = operations.iter().find(|one| one.id == row.operation).unwrap();
        matrix.ask(row, operation);
    }
    matrix.check_all_recorded(&operations);
    assert!(matrix.wrong.is_empty(), "\n{}\n", matrix.wrong.join("\n"));
    matrix.tally
}

/// Gives our club and its owner names that nobody else has.
fn mark(club: &Club) {
    let named = json!({"name": format!("Bowmen of {MARK}")});
    club.owner().patch("/club", "*", &named).expect(200);
    club.owner().patch("/me", "*", &json!({"name": format!("Maren {MARK}")})).expect(200);
}

#[track_caller]
fn check_rows(operations: &[Operation], rows: &[Row]) {
    let named: Vec<&str> = rows.iter().map(|row| row.operation).collect();
    let unique: BTreeSet<&str> = named.iter().copied().collect();
    let known: BTreeSet<&str> = operations.iter().map(|one| one.id.as_str()).collect();
    assert_eq!(unique.len(), named.len(), "an operation has two rows");
    assert_eq!(known.len(), operations.len(), "two operations have one id");
    let without: Vec<_> = known.difference(&unique).collect();
    assert!(without.is_empty(), "operations without a row in tests/suite/matrix/rows: {without:?}");
    let gone: Vec<_> = unique.difference(&known).collect();
    assert!(gone.is_empty(), "rows without an operation: {gone:?}");
    for row in rows {
        assert_eq!(row.answers().len(), OURS.len(), "{}: an answer for each caller", row.operation);
    }
}

impl Matrix<'_> {
    /// A line of the matrix.
    fn ask(&mut self, row: &Row, operation: &Operation) {
        let answers = row.answers();
        let pause = if operation.public { PAUSE } else { SignedDuration::ZERO };
        // Signed in before anything is counted, since that leaves a row of its own.
        let warm = |person: &Person| drop(person.token());
        self.callers.iter().for_each(|(_, who)| warm(who));
        self.strangers.iter().for_each(|(_, who)| warm(who));

        let ask = (row.ask)(&self.scene);
        if !ask.is_of(&operation.method, &operation.path) {
            self.wrong.push(format!("{}: its row asks {}", row.operation, ask.said()));
        }
        let (ids, before) = (self.ours.ids(), self.ours.on_record());
        for (place, who) in self.callers.clone() {
            if !"+-".contains(answers[place]) {
                self.scene.club.clock.advance(pause);
                self.check(row, place, answers[place], &ask, &ask.send(who));
            }
        }
        for (name, who) in self.strangers {
            self.scene.club.clock.advance(pause);
            self.check_stranger(row, name, &ask, &ask.send(who), &ids);
        }
        let after = self.ours.on_record();
        // While nobody is held for trying, tokens run out and people sign in again.
        let counted = |line: &str| !operation.public || !line.starts_with("sign_ins ");
        for (before, after) in before.iter().zip(&after).filter(|(_, after)| counted(after)) {
            if before == after {
                continue;
            }
            let changed = format!("{before} became {after}");
            self.wrong.push(format!("{}: who may not changed it: {changed}", row.operation));
        }
        for (place, who) in self.callers.clone() {
            if "+-".contains(answers[place]) {
                // Reading changes nothing for the next.
                let fresh = (ask.method != "GET").then(|| (row.ask)(&self.scene));
                let fresh = fresh.as_ref().unwrap_or(&ask);
                self.scene.club.clock.advance(pause);
                let before = self.ours.changes(row.operation);
                self.check(row, place, answers[place], fresh, &fresh.send(who));
                self.check_record(row, place, fresh, before);
            }
        }
    }

    /// Whether somebody of our club is answered as the row says.
    fn check(&mut self, row: &Row, place: usize, expected: char, ask: &Ask, answer: &Answer) {
        self.tally.requests += 1;
        let right = match expected {
            '+' | '-' => (200..300).contains(&answer.status),
            '1' => answer.status == 401,
            '2' => answer.status == 422,
            '3' => answer.status == 403,
            '4' => answer.status == 404,
            _ => false,
        };
        let text = String::from_utf8_lossy(&answer.body);
        let shown =
            ask.about.as_ref().is_none_or(|id| text.contains(id.as_str()) == (expected == '+'));
        if !right || ("+-".contains(expected) && !shown) {
            let name = OURS[place];
            let answer = brief(answer);
            self.wrong.push(format!("{} by {name}: {expected} expected, {answer}", row.operation));
        }
    }

    /// Whether what was just done left one record of it, or none where none is left.
    fn check_record(&mut self, row: &Row, place: usize, ask: &Ask, before: (usize, usize)) {
        let after = self.ours.changes(row.operation);
        let left = (after.0 - before.0, after.1 - before.1);
        let recorded = ask.method != "GET" && is_recorded(row.operation);
        let expected = if recorded { (1, 1) } else { (0, 0) };
        if left != expected {
            let (name, operation) = (OURS[place], row.operation);
            self.wrong.push(format!(
                "{operation} by {name} left {} records, {} of {operation}: {expected:?} expected",
                left.0, left.1
            ));
        }
        if left == (1, 1) {
            self.recorded.insert(row.operation.to_owned());
        }
    }

    /// Whether every operation that writes was seen to leave a record, or is listed as one that does not.
    fn check_all_recorded(&mut self, operations: &[Operation]) {
        let writing: BTreeSet<&str> = operations
            .iter()
            .filter(|one| one.method != "get")
            .map(|one| one.id.as_str())
            .collect();
        for id in &writing {
            if is_recorded(id) && !self.recorded.contains(*id) {
                self.wrong
                    .push(format!("{id} was never seen to leave a record of what it changed"));
            }
        }
        for (id, _why) in UNRECORDED.iter().filter(|(id, _why)| !writing.contains(id)) {
            self.wrong.push(format!("{id} is listed as unrecorded and writes nothing"));
        }
    }

    /// Whether somebody of another club learns nothing.
    fn check_stranger(
        &mut self,
        row: &Row,
        name: &str,
        ask: &Ask,
        answer: &Answer,
        ids: &BTreeSet<Uuid>,
    ) {
        self.tally.requests += 1;
        let done = (200..300).contains(&answer.status);
        let right = match row.to_strangers {
            Some(status) => answer.status == status,
            None => done || [403, 404, 422].contains(&answer.status),
        };
        let who = format!("{} by {name} of another club", row.operation);
        if !right {
            self.wrong.push(format!("{who}: {}", brief(answer)));
        }
        let said = if done { String::new() } else { ask.said() };
        let leaks = leaks(&String::from_utf8_lossy(&answer.body), &said, ids);
        if !leaks.is_empty() {
            self.tally.leaks += 1;
            self.wrong.push(format!("{who} reads {leaks:?}: {}", brief(answer)));
        }
    }
}

/// The beginning of an answer, for messages.
fn brief(answer: &Answer) -> String {
    answer.to_string().chars().take(300).collect()
}
