//! When the work on a part is expected: a date for each rule, and the first of them for the part.
//! Knows nothing of how a rule judges, or of who is told.

use jiff::civil::Date;

use super::{Band, Method, Pace, band};
use crate::rules::{Assessment, RuleTask};

/// When the work on a part is expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outlook {
    /// For each verdict of the assessment, in its order.
    pub verdicts: Vec<Band>,
    /// The first of them; all unknown if none of them is known.
    pub first: Band,
}

/// Nobody can tell.
const UNKNOWN: Band = Band { p10_on: None, p50_on: None, p90_on: None, method: Method::RecentRate };

impl Outlook {
    /// When the work that an assessment speaks of is expected, at the pace at which the bow is shot.
    ///
    /// The first is that of the verdict with the earliest p50. A part that has been shot in asks for
    /// nothing, so the end of its settling is not counted among the work.
    ///
    /// # Example
    /// See [`band`], which is asked for each verdict.
    #[must_use]
    pub fn of(assessment: &Assessment, pace: Option<&Pace>, today: Date) -> Self {
        let bands = assessment.verdicts.iter().map(|verdict| band(verdict.left, pace, today));
        let verdicts: Vec<Band> = bands.collect();
        let work = assessment.verdicts.iter().zip(&verdicts).filter_map(|(verdict, band)| {
            let p50_on = band.p50_on.filter(|_| verdict.task != RuleTask::SettleIn)?;
            Some((p50_on, *band))
        });
        // The most urgent of several that are expected on one day.
        let first = work.reduce(|a, b| if b.0 < a.0 { b } else { a });
        let first = first.map_or(UNKNOWN, |(_, band)| band);
        Self { verdicts, first }
    }

    /// That of one verdict, by its place in the assessment.
    #[must_use]
    pub fn of_verdict(&self, place: usize) -> Option<Band> {
        self.verdicts.get(place).copied()
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;
    use uuid::Uuid;

    use super::*;
    use crate::{
        ids::RuleId,
        rules::{Condition, Left, Scope, Trigger, Verdict},
    };

    const TODAY: Date = date(2027, 3, 1);

    fn verdict(task: RuleTask, shots: Option<i64>, until: Option<Date>) -> Verdict {
        Verdict {
            rule_id: RuleId(Uuid::nil()),
            version: 1,
            scope: Scope::Club,
            task,
            condition: Condition::Sound,
            trigger: Trigger::Shots,
            count: 0,
            limit: 0,
            left: Left { shots, until, both: false },
            reason: String::new(),
        }
    }

    fn outlook(verdicts: Vec<Verdict>, pace: Option<&Pace>) -> Outlook {
        let reason = String::new();
        Outlook::of(&Assessment { condition: Condition::Sound, reason, verdicts }, pace, TODAY)
    }

    #[test]
    fn the_first_work_speaks_for_the_part_and_settling_is_no_work() {
        let pace = Pace { weeks: 8, mean_shots_per_week: 100.0, variance_per_week: 0.0 };
        let found = outlook(
            vec![
                verdict(RuleTask::SettleIn, Some(100), None),
                verdict(RuleTask::Change, Some(300), None),
                verdict(RuleTask::Wax, Some(201), None),
                verdict(RuleTask::Inspect, None, Some(date(2027, 3, 30))),
            ],
            Some(&pace),
        );
        let p50s = found.verdicts.iter().map(|band| band.p50_on.unwrap()).collect::<Vec<_>>();
        // 7 · 201 / 100 = 14.07 days, so the fifteenth.
        let days = [date(2027, 3, 8), date(2027, 3, 22), date(2027, 3, 16), date(2027, 3, 30)];
        assert_eq!(p50s, days);
        assert_eq!(found.first, found.verdicts[2]);
    }

    #[test]
    fn without_a_pace_only_the_calendar_is_known() {
        let day = date(2027, 4, 1);
        let by_shots = verdict(RuleTask::Change, Some(300), None);
        assert_eq!(outlook(vec![by_shots.clone()], None).first, UNKNOWN);
        let by_days = verdict(RuleTask::Wax, Some(500), Some(day));
        let found = outlook(vec![by_shots, by_days], None);
        assert_eq!(found.first.p50_on, Some(day));
        assert_eq!(outlook(Vec::new(), None).first, UNKNOWN);
    }
}
