//! What `tests/tools/zones.py` says, and where it differs from ours. It knows no rule of ours.

use std::collections::BTreeMap;

use jiff::Timestamp;

use crate::support::tool;

/// What the other program says.
#[derive(Default)]
pub(super) struct Theirs {
    /// For each zone the first with the same data.
    pub(super) firsts: BTreeMap<String, String>,
    /// For each of the first: what the line is about, and its runs.
    pub(super) lines: BTreeMap<String, Vec<(String, String)>>,
}

impl Theirs {
    /// What it says when asked for everything.
    pub(super) fn all() -> Self {
        Self::read(&run(&[]))
    }

    fn read(printed: &str) -> Self {
        let mut theirs = Self::default();
        for line in printed.lines() {
            match *line.split('|').collect::<Vec<_>>() {
                ["same", name, first] => {
                    theirs.firsts.insert(name.to_owned(), first.to_owned());
                }
                ["daily", name, time, quiet, runs] => {
                    theirs.add(name, format!("daily|{time}|{quiet}"), runs);
                }
                ["stages", name, recipient, runs] => {
                    theirs.add(name, format!("stages|{recipient}"), runs);
                }
                _ => panic!("not understood: {line}"),
            }
        }
        theirs
    }

    fn add(&mut self, name: &str, about: String, runs: &str) {
        self.lines.entry(name.to_owned()).or_default().push((about, runs.to_owned()));
    }
}

/// The release of its zone data.
pub(super) fn release() -> String {
    run(&["release"]).trim().to_owned()
}

fn run(arguments: &[&str]) -> String {
    let output = tool("zones.py").args(arguments).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// The first send that differs, if one does.
pub(super) fn first_difference(ours: &str, theirs: &str) -> Option<String> {
    if ours == theirs {
        return None;
    }
    let [ours, theirs] = [ours, theirs].map(moments);
    let number = ours.iter().zip(&theirs).take_while(|(ours, theirs)| ours == theirs).count();
    let at = |moments: &[i64]| {
        moments.get(number).map(|second| Timestamp::from_second(*second).unwrap().to_string())
    };
    Some(format!("send {number} is at {:?}, theirs at {:?}", at(&ours), at(&theirs)))
}

/// The moments that stand behind a line.
pub(super) fn moments(runs: &str) -> Vec<i64> {
    let mut words = runs.split(' ');
    let mut moments = vec![words.next().unwrap().parse::<i64>().unwrap()];
    for run in words {
        let (step, count) = run.split_once('x').unwrap();
        for _ in 0..count.parse::<usize>().unwrap() {
            moments.push(moments.last().unwrap() + step.parse::<i64>().unwrap());
        }
    }
    moments
}
