//! Logs that may be of one and the same shooting: entered by the archer and by the coach, or twice by
//! a phone that gave them two ids. Nothing here decides that they are; people do.

use std::collections::BTreeMap;

use jiff::{SignedDuration, civil::Date};

use super::{ShotLog, Shots};
use crate::{ids::BowId, time::Zone};

/// Two logs by one member are of two shootings if more than this lies between them. Common practice,
/// no source.
const BETWEEN_SHOOTINGS: SignedDuration = SignedDuration::from_hours(2);

impl ShotLog {
    /// Whether both may be of one shooting: of the same bow, on the same day there, with as many shots;
    /// and entered by two people, or at most two hours apart.
    #[must_use]
    pub fn may_repeat(&self, other: &Self, zone: &Zone) -> bool {
        let apart = self.time.at.duration_since(other.time.at).abs();
        self.id != other.id
            && (self.bow_id, self.shots) == (other.bow_id, other.shots)
            && zone.date_of(self.time.at) == zone.date_of(other.time.at)
            && (self.entered_by != other.entered_by || apart <= BETWEEN_SHOOTINGS)
    }
}

/// Two logs that may be of one shooting.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    /// The one that reached us first.
    pub first: ShotLog,
    /// The other one.
    pub second: ShotLog,
}

/// Each log that may repeat one shot before it, with the nearest such one; by bow and time.
#[must_use]
pub fn possible_duplicates(logs: Vec<ShotLog>, zone: &Zone) -> Vec<Pair> {
    let mut alike = BTreeMap::<(BowId, Date, Shots), Vec<ShotLog>>::new();
    for log in logs {
        alike.entry((log.bow_id, zone.date_of(log.time.at), log.shots)).or_default().push(log);
    }
    let mut found = Vec::new();
    for mut logs in alike.into_values() {
        logs.sort_by_key(|log| (log.time.at, log.id));
        for (n, later) in logs.iter().enumerate() {
            let before = logs.iter().take(n).rev().find(|one| later.may_repeat(one, zone));
            found.extend(before.map(|before| Pair::of(before, later)));
        }
    }
    found
}

impl Pair {
    fn of(one: &ShotLog, other: &ShotLog) -> Self {
        let came = |log: &ShotLog| (log.received_at, log.id);
        let (first, second) = if came(one) <= came(other) { (one, other) } else { (other, one) };
        Self { first: first.clone(), second: second.clone() }
    }
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use uuid::Uuid;

    use super::*;
    use crate::{
        ids::{MemberId, ShotLogId},
        ledger::{LogKind, LogTime},
        text::Note,
    };

    /// A log at a time on 1 March 2027 in Lisbon, which has UTC then.
    fn log(id: u128, by: u128, hour: i64, shots: i64) -> ShotLog {
        let midnight: Timestamp = "2027-03-01T00:00:00Z".parse().unwrap();
        let at = midnight + SignedDuration::from_hours(hour);
        ShotLog {
            id: ShotLogId(Uuid::from_u128(id)),
            bow_id: BowId(Uuid::from_u128(1)),
            time: LogTime { at, stated: at, date_only: false, skew_s: None },
            shots: Shots::new(shots).unwrap(),
            kind: LogKind::Practice,
            note: Note::default(),
            entered_by: MemberId(Uuid::from_u128(by)),
            // Whoever has the higher id was heard of first.
            received_at: midnight + SignedDuration::from_hours(100 - i64::try_from(id).unwrap()),
        }
    }

    fn lisbon() -> Zone {
        Zone::parse("Europe/Lisbon").unwrap()
    }

    #[test]
    fn what_may_be_one_shooting_is_told_by_bow_day_shots_and_who() {
        let first = log(1, 1, 8, 72);
        for (other, may) in [
            (log(2, 1, 8, 72), true),
            (log(2, 1, 10, 72), true),
            // The same archer, shooting again in the evening.
            (log(2, 1, 11, 72), false),
            // The coach, who enters it at the end of the day.
            (log(2, 2, 23, 72), true),
            (log(2, 2, 24, 72), false),
            (log(2, 2, 8, 71), false),
            (log(1, 1, 8, 72), false),
        ] {
            assert_eq!(first.may_repeat(&other, &lisbon()), may, "{other:?}");
            assert_eq!(other.may_repeat(&first, &lisbon()), may, "{other:?}");
        }
        let other_bow = ShotLog { bow_id: BowId(Uuid::nil()), ..log(2, 2, 8, 72) };
        assert!(!first.may_repeat(&other_bow, &lisbon()));
    }

    #[test]
    fn the_day_is_the_clubs() {
        let (late, early) = (log(1, 1, 23, 72), log(2, 2, 24, 72));
        assert!(!late.may_repeat(&early, &lisbon()));
        assert!(late.may_repeat(&early, &Zone::parse("America/New_York").unwrap()));
    }

    #[test]
    fn each_log_is_paired_with_the_nearest_that_it_may_repeat() {
        let ids = |logs: Vec<ShotLog>| -> Vec<(u128, u128)> {
            let pairs = possible_duplicates(logs, &lisbon());
            let id = |log: &ShotLog| log.id.0.as_u128();
            pairs.iter().map(|pair| (id(&pair.first), id(&pair.second))).collect()
        };
        assert_eq!(ids(vec![log(2, 1, 9, 72), log(1, 1, 8, 72)]), [(2, 1)]);
        assert_eq!(
            ids(vec![log(1, 1, 8, 72), log(2, 1, 9, 72), log(3, 1, 10, 72)]),
            [(2, 1), (3, 2)]
        );
        // Morning and evening by the archer; the coach entered one of them.
        assert_eq!(ids(vec![log(1, 1, 8, 72), log(2, 1, 20, 72), log(3, 2, 21, 72)]), [(3, 2)]);
        assert_eq!(ids(vec![log(1, 1, 8, 72), log(2, 1, 20, 72), log(3, 2, 8, 60)]), []);
    }
}
