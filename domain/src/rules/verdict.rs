//! What one rule says of one part: its triggers, weighed together.

use jiff::civil::Date;

use super::{
    Combine, Condition, PartRecord, Rule, RuleTask, Scope,
    triggers::{Weighed, grouped, weigh},
};
use crate::{ids::RuleId, time::Zone, words::words};

words! {
    /// Which of a rule's triggers spoke.
    pub enum Trigger {
        /// The count of shots.
        Shots = "shots",
        /// The calendar.
        Days = "days",
        /// The string or its serving was changed since.
        Change = "change",
        /// Something was found at an inspection.
        Finding = "finding",
        /// Something happened to the bow.
        Incident = "incident",
        /// The next event of the bow.
        Event = "event",
    }
}

/// What one rule says of one part, in a word and in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verdict {
    /// Which rule.
    pub rule_id: RuleId,
    /// Which setting of it.
    pub version: i32,
    /// For which parts that rule is.
    pub scope: Scope,
    /// Which work it asks for.
    pub task: RuleTask,
    /// What it makes of the part.
    pub condition: Condition,
    /// Which trigger decided.
    pub trigger: Trigger,
    /// What that trigger's count stands at: shots, days, the worst grade found, or incidents; where the
    /// next event spoke, that of the trigger that it announces.
    pub count: i64,
    /// The limit that is next or was last passed, in the same unit.
    pub limit: i64,
    /// What is left until the work is to be done.
    pub left: Left,
    /// Why, in words and numbers.
    pub reason: String,
}

/// What is left until work is to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Left {
    /// So many shots; zero or less when it is due.
    pub shots: Option<i64>,
    /// Until this day by the calendar.
    pub until: Option<Date>,
    /// Both have to be used up; else what comes first counts.
    pub both: bool,
}

impl Left {
    /// Nothing is left.
    const NOTHING: Self = Self { shots: Some(0), until: None, both: false };

    /// What is left by several triggers, whichever comes first.
    fn first(all: &[Weighed]) -> Self {
        let shots = all.iter().filter_map(|one| one.left.shots).min();
        let until = all.iter().filter_map(|one| one.left.until).min();
        Self { shots, until, both: false }
    }

    /// What is left until the last of several triggers; nothing is known where one of them cannot be
    /// foreseen.
    fn last(all: &[Weighed]) -> Self {
        if all.iter().any(|one| one.left == Self::default()) {
            return Self::default();
        }
        let shots = all.iter().filter_map(|one| one.left.shots).max();
        let until = all.iter().filter_map(|one| one.left.until).max();
        Self { shots, until, both: true }
    }
}

/// Judges a part by a rule; none if the rule has nothing to say of it.
///
/// Each trigger of the rule is weighed by itself (see [`super::weigh`]). Where the first to come counts,
/// the most urgent of them speaks, in the order shots, days, change, finding, incident if several are
/// equally urgent. Where all of them have to come, the least urgent one decides and all of them are in
/// the reason; a trigger that nothing can be said of yet keeps the rule silent.
///
/// Work that nothing asks for yet is announced for the next event of the bow, if the rule says so: from
/// so many days before the event on, if by the end of it the shots that are expected until then, or the
/// calendar, will have reached what is left.
///
/// # Example
/// See [`super::assess`], which calls this for each rule of a part.
#[must_use]
pub fn judge(rule: &Rule, record: &PartRecord, zone: &Zone, today: Date) -> Option<Verdict> {
    let weighed = weigh(rule, record, zone, today)?;
    // A changed string asks for the nocking point besides, whatever else has to come.
    let changed = weighed.iter().any(|one| one.trigger == Trigger::Change);
    let combine = if changed { Combine::First } else { rule.limits.combine };
    let speaking = match combine {
        Combine::First => {
            weighed.iter().reduce(|a, b| if b.condition < a.condition { b } else { a })
        }
        Combine::All => weighed.iter().reduce(|a, b| if b.condition > a.condition { b } else { a }),
    }?;
    let left = match combine {
        Combine::First if speaking.is_sudden() => Left::NOTHING,
        Combine::First => Left::first(&weighed),
        Combine::All => Left::last(&weighed),
    };
    let reason = match combine {
        Combine::First => speaking.reason.clone(),
        Combine::All => {
            weighed.iter().map(|one| one.reason.as_str()).collect::<Vec<_>>().join(", and ")
        }
    };
    let verdict = Verdict {
        rule_id: rule.id,
        version: rule.version,
        scope: rule.scope.clone(),
        task: rule.task,
        condition: speaking.condition,
        trigger: speaking.trigger,
        count: speaking.count,
        limit: speaking.limit,
        left,
        reason,
    };
    Some(announced(verdict, rule, record, today))
}

/// The verdict, with work announced that will be due before the next event is over.
fn announced(verdict: Verdict, rule: &Rule, record: &PartRecord, today: Date) -> Verdict {
    let quiet = verdict.condition == Condition::Sound;
    let Some((days, event)) = rule.limits.event_notice_days.zip(record.seen.ahead.as_ref()) else {
        return verdict;
    };
    let days_left = today.until(event.starts_on).map_or(0, |span| i64::from(span.get_days()));
    let by_shots = verdict.left.shots.map(|left| left <= event.shots_by_end);
    let by_days = verdict.left.until.map(|until| until <= event.ends_on);
    let reached = [by_shots, by_days];
    let reached = if verdict.left.both {
        reached.iter().flatten().all(|there| *there) && reached.iter().any(Option::is_some)
    } else {
        reached.contains(&Some(true))
    };
    if !quiet || days_left > i64::from(days) || !reached {
        return verdict;
    }
    let (name, starts_on, by_then) = (&event.name, event.starts_on, grouped(event.shots_by_end));
    let reason = format!(
        "{}; will be due before {name} is over, which begins on {starts_on}: {by_then} shots are \
         expected until its end",
        verdict.reason
    );
    Verdict { condition: Condition::Nearing, trigger: Trigger::Event, reason, ..verdict }
}

#[cfg(test)]
mod tests;
