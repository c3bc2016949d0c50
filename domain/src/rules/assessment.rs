//! What all the rules together say of a part.

use std::collections::BTreeSet;

use jiff::{Timestamp, civil::Date};

use super::{Condition, Rule, Seen, Stop, Verdict, applying, judge};
use crate::{
    bows::Division,
    ids::{BowId, SquadId},
    ledger::{Clock, Reading},
    parts::Part,
    time::Zone,
};

/// Everything that is known of a part when it is judged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartRecord {
    /// The part.
    pub part: Part,
    /// Its clocks.
    pub readings: Vec<Reading>,
    /// When it was first fitted, or first counted from.
    pub first_fitted_at: Option<Timestamp>,
    /// When, of a part that hangs under a bow, itself or a serving on it was last fitted.
    pub changed_at: Option<Timestamp>,
    /// Why it must not be shot, if so.
    pub stop: Option<Stop>,
    /// The bow that it is under, or was under last.
    pub under: Option<Under>,
    /// What was seen of it besides, as far as a rule in force asks for it.
    pub seen: Seen,
}

/// The bow that a part is under, as far as rules ask for it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Under {
    /// Which bow.
    pub bow: BowId,
    /// What it is set up for.
    pub division: Division,
    /// The squads in which its archer is.
    pub squads: BTreeSet<SquadId>,
}

impl PartRecord {
    /// What one of its clocks shows.
    #[must_use]
    pub fn reading(&self, clock: Clock) -> Option<Reading> {
        self.readings.iter().copied().find(|reading| reading.clock == clock)
    }

    /// The shots of its whole life.
    #[must_use]
    pub fn life_shots(&self) -> i64 {
        self.reading(Clock::Life).map_or(0, |reading| reading.shots)
    }

    /// The days since it was first fitted; a string ages in the case too.
    #[must_use]
    pub fn days_since_first_fitted(&self, zone: &Zone, today: Date) -> Option<i64> {
        let first = zone.date_of(self.first_fitted_at?);
        first.until(today).ok().map(|span| i64::from(span.get_days()))
    }
}

/// What a part is now, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assessment {
    /// The most urgent of what holds.
    pub condition: Condition,
    /// Why, in words and numbers.
    pub reason: String,
    /// What each rule says, the most urgent first.
    pub verdicts: Vec<Verdict>,
}

/// Judges a part by every rule for its kind.
///
/// # Example
/// ```
/// use domain::{ids::*, ledger::*, parts::*, rules::*, text::Name, time::Zone, upkeep::UpkeepTask};
/// use jiff::{Timestamp, civil::date};
/// use uuid::Uuid;
/// let part = Part {
///     id: PartId(Uuid::nil()), kind: PartKind::Bowstring, name: Name::parse("blue")?,
///     material: None, strands: None, made_on: None, start: None, unit_cost: None,
///     retirement: None, created_at: Timestamp::UNIX_EPOCH,
/// };
/// let reading = |clock, shots| Reading { clock, shots, reset_at: None };
/// let readings = vec![reading(Clock::Life, 520), reading(Clock::Since(UpkeepTask::Waxed), 520)];
/// let first_fitted_at = Some(Timestamp::UNIX_EPOCH);
/// let (changed_at, stop, under, seen) = (None, None, None, Seen::default());
/// let record = PartRecord { part, readings, first_fitted_at, changed_at, stop, under, seen };
/// let rules = default_book(Timestamp::UNIX_EPOCH, || RuleId(Uuid::nil()));
/// let found = assess(&record, &rules, &Zone::utc(), date(1970, 1, 5));
/// assert_eq!(found.condition, Condition::Due);
/// assert_eq!(found.reason, "wax the string: 520 shots and never waxed; plan 500");
/// # Ok::<(), domain::text::TextError>(())
/// ```
#[must_use]
pub fn assess(record: &PartRecord, rules: &[Rule], zone: &Zone, today: Date) -> Assessment {
    if let Some(retirement) = &record.part.retirement {
        let reason = format!(
            "retired on {} ({}): {}",
            zone.date_of(retirement.at),
            retirement.end.label(),
            retirement.reason
        );
        return Assessment { condition: Condition::Retired, reason, verdicts: Vec::new() };
    }
    let mut verdicts: Vec<Verdict> = applying(rules, record)
        .into_iter()
        .filter_map(|rule| judge(rule, record, zone, today))
        .collect();
    verdicts.sort_by_key(|verdict| (verdict.condition, verdict.task, verdict.rule_id));
    // Two squads of one archer may each have a rule for the work: the more urgent one speaks.
    let mut asked = BTreeSet::new();
    verdicts.retain(|verdict| asked.insert(verdict.task));
    let (condition, reason) = match (&record.stop, verdicts.first()) {
        (Some(stop), _) => (Condition::DoNotShoot, stop.reason(zone)),
        (None, Some(worst)) if worst.condition.wants_work() => {
            let work = worst.task.instruction(record.part.kind);
            (worst.condition, format!("{work}: {}", worst.reason))
        }
        (None, Some(worst)) if worst.condition == Condition::Settling => {
            (Condition::Settling, worst.reason.clone())
        }
        (None, _) => (Condition::Sound, "nothing due".to_owned()),
    };
    Assessment { condition, reason, verdicts }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;
    use uuid::Uuid;

    use super::*;
    use crate::{
        ids::RuleId,
        incidents::IncidentKind,
        parts::{End, PartKind, Retirement},
        rules::{StopCause, default_book},
        text::Name,
    };

    fn record(shots: i64, fitted: bool) -> PartRecord {
        let part = Part::bare(PartKind::Bowstring);
        let readings = part
            .kind
            .clocks()
            .iter()
            .map(|&clock| Reading { clock, shots, reset_at: None })
            .collect();
        let first_fitted_at = fitted.then_some(Timestamp::UNIX_EPOCH);
        PartRecord {
            part,
            readings,
            first_fitted_at,
            changed_at: None,
            stop: None,
            under: None,
            seen: Seen::default(),
        }
    }

    fn check(record: &PartRecord, condition: Condition, reason: &str) {
        let rules = default_book(Timestamp::UNIX_EPOCH, || RuleId(Uuid::nil()));
        let found = assess(record, &rules, &Zone::utc(), date(1970, 1, 2));
        assert_eq!((found.condition, found.reason.as_str()), (condition, reason));
    }

    #[test]
    fn a_new_string_is_settling_only_once_it_is_on_a_bow() {
        let measured = |shots, fitted| {
            let mut record = record(shots, fitted);
            for reading in record.readings.iter_mut().filter(|one| one.clock != Clock::Life) {
                *reading = Reading { shots: 0, reset_at: Some(Timestamp::UNIX_EPOCH), ..*reading };
            }
            record
        };
        check(&measured(0, false), Condition::Sound, "nothing due");
        check(&measured(0, true), Condition::Settling, "0 of 200 settle-in shots");
        check(&measured(199, true), Condition::Settling, "199 of 200 settle-in shots");
        check(&measured(200, true), Condition::Sound, "nothing due");
    }

    #[test]
    fn what_forbids_shooting_comes_before_any_count() {
        let at = Timestamp::UNIX_EPOCH;
        let cause = StopCause::Incident(IncidentKind::DryFire);
        let stopped = PartRecord { stop: Some(Stop { at, cause }), ..record(40_000, true) };
        let words = "do not shoot: dry fire on 1970-01-01; a coach or owner inspects it and says why \
                     it may be shot again";
        check(&stopped, Condition::DoNotShoot, words);
    }

    #[test]
    fn the_most_urgent_rule_speaks() {
        let words = "change the string: 30,000 shots in all; plan 15,000, retire at 30,000";
        let mut worn = record(30_000, true);
        for reading in worn.readings.iter_mut().filter(|reading| reading.clock != Clock::Life) {
            *reading = Reading { shots: 450, reset_at: Some(Timestamp::UNIX_EPOCH), ..*reading };
        }
        check(&worn, Condition::Overdue, words);
    }

    #[test]
    fn a_retired_part_wants_nothing_more() {
        let mut gone = record(40_000, true);
        gone.part.retirement = Some(Retirement {
            at: Timestamp::UNIX_EPOCH,
            end: End::Worn,
            reason: Name::parse("fuzzy").unwrap(),
        });
        check(&gone, Condition::Retired, "retired on 1970-01-01 (worn): fuzzy");
    }
}
