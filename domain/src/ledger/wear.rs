//! From entries and fittings to the shots of a part.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::ShotLog;
use crate::{
    fittings::{Fitting, Host},
    ids::{BowId, PartId},
    parts::Start,
    upkeep::UpkeepTask,
};

/// What is counted: a part's whole life, or the shots since a kind of work was last done on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Clock {
    /// Everything the part was ever shot.
    Life,
    /// What it was shot since this was last done; all its life if that is not on record.
    Since(UpkeepTask),
}

impl Clock {
    /// How the clock is spelt where it is kept.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Life => "life",
            Self::Since(task) => task.as_str(),
        }
    }

    /// The clock spelt so.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        if word == "life" { Some(Self::Life) } else { UpkeepTask::parse(word).map(Self::Since) }
    }
}

/// A clock's state: how many shots it shows, and since when it runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// What is counted.
    pub clock: Clock,
    /// The shots.
    pub shots: i64,
    /// When the work was last done that set it back; none if it never was.
    pub reset_at: Option<Timestamp>,
}

/// A time in which a part was shot with a bow, because it or its host was fitted to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// The bow.
    pub bow_id: BowId,
    /// Since when.
    pub from: Timestamp,
    /// Until just before when; none if it still goes on.
    pub to: Option<Timestamp>,
}

impl Stretch {
    /// Whether a moment lies in it.
    #[must_use]
    pub fn covers(&self, at: Timestamp) -> bool {
        self.from <= at && self.to.is_none_or(|to| at < to)
    }
}

/// When and with which bows a part was shot, oldest first.
///
/// A fitting to a bow is a stretch; a fitting to another part is cut into the stretches of that
/// part. `of_hosts` holds the fittings of every part that `fittings` names as a host.
#[must_use]
pub fn stretches(fittings: &[Fitting], of_hosts: &BTreeMap<PartId, Vec<Fitting>>) -> Vec<Stretch> {
    let mut found: Vec<Stretch> = fittings
        .iter()
        .flat_map(|fitting| match fitting.host {
            Host::Bow(bow_id) => vec![Stretch { bow_id, from: fitting.from, to: fitting.to }],
            Host::Part(host) => of_hosts
                .get(&host)
                .into_iter()
                .flatten()
                .filter_map(|under| common(fitting, under))
                .collect(),
        })
        .collect();
    found.sort_by_key(|stretch| (stretch.from, stretch.bow_id));
    found
}

/// The time that a fitting shares with its host's fitting to a bow.
fn common(fitting: &Fitting, under: &Fitting) -> Option<Stretch> {
    let Host::Bow(bow_id) = under.host else { return None };
    let from = fitting.from.max(under.from);
    let to = [fitting.to, under.to].into_iter().flatten().min();
    (to.is_none_or(|to| from < to)).then_some(Stretch { bow_id, from, to })
}

/// The shots of a part: the sum over its stretches of what was logged within them.
///
/// # Formula
/// `shots = start.shots + sum of log.shots over logs with from <= at < to, at >= start.at` for the
/// whole life. Since a reset at `r`, only logs with `at >= r`, and `start.shots` only where the reset
/// came before the part's shots were logged here (`r < start.at`).
///
/// # Domain
/// `logs` in any order, each once. Shots are whole numbers; the sum is exact.
///
/// # Example
/// ```
/// use domain::{ids::{BowId, MemberId, ShotLogId}, ledger::*, text::Note, time::parse_instant};
/// use uuid::Uuid;
/// let bow_id = BowId(Uuid::from_u128(1));
/// let day = |text: &str| parse_instant(&format!("{text}T12:00:00Z")).unwrap();
/// let log = |on: &str, shots| ShotLog {
///     id: ShotLogId(Uuid::nil()),
///     bow_id,
///     time: LogTime { at: day(on), stated: day(on), date_only: false, skew_s: None },
///     shots: Shots::new(shots).unwrap(),
///     kind: LogKind::Practice,
///     note: Note::default(),
///     entered_by: MemberId(Uuid::nil()),
///     received_at: day(on),
/// };
/// let stretch = Stretch { bow_id, from: day("2027-01-02"), to: Some(day("2027-01-04")) };
/// let logs = [log("2027-01-01", 1), log("2027-01-02", 10), log("2027-01-03", 100), log("2027-01-04", 1000)];
/// assert_eq!(count(&[stretch], None, None, &logs), 110);
/// assert_eq!(count(&[stretch], None, Some(day("2027-01-03")), &logs), 100);
/// ```
#[must_use]
pub fn count(
    stretches: &[Stretch],
    start: Option<Start>,
    reset_at: Option<Timestamp>,
    logs: &[ShotLog],
) -> i64 {
    let not_before = reset_at.max(start.map(|start| start.at));
    let counts = |log: &&ShotLog| {
        not_before.is_none_or(|earliest| log.time.at >= earliest)
            && stretches
                .iter()
                .any(|stretch| stretch.bow_id == log.bow_id && stretch.covers(log.time.at))
    };
    let logged: i64 = logs.iter().filter(counts).map(|log| i64::from(log.shots.get())).sum();
    shots_before(start, reset_at) + logged
}

/// The shots a part came with, as far as a clock that was set back at `reset_at` counts them.
#[must_use]
pub fn shots_before(start: Option<Start>, reset_at: Option<Timestamp>) -> i64 {
    let counts = |start: &Start| reset_at.is_none_or(|reset_at| reset_at < start.at);
    start.filter(counts).map_or(0, |start| i64::from(start.shots))
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::ids::FittingId;

    fn at(day: i64) -> Timestamp {
        Timestamp::from_second(day * 86_400).unwrap()
    }

    fn fitting(part: u128, host: Host, from: i64, to: Option<i64>) -> Fitting {
        Fitting {
            id: FittingId(Uuid::nil()),
            part_id: PartId(Uuid::from_u128(part)),
            host,
            from: at(from),
            to: to.map(at),
            version: 1,
        }
    }

    #[test]
    fn a_serving_is_shot_when_its_string_is_on_a_bow() {
        let (red, blue) = (BowId(Uuid::from_u128(1)), BowId(Uuid::from_u128(2)));
        let string = PartId(Uuid::from_u128(10));
        // The string: on red from day 0 to 10, in the case, on blue from day 20.
        let under =
            vec![fitting(10, Host::Bow(red), 0, Some(10)), fitting(10, Host::Bow(blue), 20, None)];
        // The serving: on the string from day 5 to 30.
        let served = [fitting(11, Host::Part(string), 5, Some(30))];
        let expected = [
            Stretch { bow_id: red, from: at(5), to: Some(at(10)) },
            Stretch { bow_id: blue, from: at(20), to: Some(at(30)) },
        ];
        assert_eq!(stretches(&served, &BTreeMap::from([(string, under)])), expected);
        assert_eq!(stretches(&served, &BTreeMap::new()), []);
    }

    #[test]
    fn shots_a_part_came_with_count_unless_the_work_was_done_since() {
        let start = Some(Start { shots: 14_000, at: at(10) });
        let cases = [(None, 14_000), (Some(9), 14_000), (Some(10), 0), (Some(11), 0)];
        for (reset, expected) in cases {
            assert_eq!(shots_before(start, reset.map(at)), expected, "{reset:?}");
        }
        assert_eq!(shots_before(None, None), 0);
    }

    #[test]
    fn every_clock_is_spelt_one_way() {
        for clock in [Clock::Life, Clock::Since(UpkeepTask::Waxed)] {
            assert_eq!(Clock::parse(clock.as_str()), Some(clock));
        }
        assert_eq!(Clock::parse("moon"), None);
    }
}
