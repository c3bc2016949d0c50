//! How far each trigger of a rule has come on one part.

use jiff::{Span, Timestamp, civil::Date};

use super::{
    Condition, DayLimits, FindingTrigger, Left, PartRecord, Rule, RuleTask, ShotLimits, Trigger,
};
use crate::{
    incidents::IncidentKind,
    ledger::{Clock, Reading},
    time::Zone,
};

/// How far one trigger of a rule has come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Weighed {
    /// Which trigger.
    pub trigger: Trigger,
    /// What it alone makes of the part.
    pub condition: Condition,
    /// What is counted: shots, days, the worst grade found, or incidents.
    pub count: i64,
    /// The limit that is next or was last passed, in the same unit.
    pub limit: i64,
    /// What is left until it asks for the work; nothing known where it cannot be foreseen.
    pub left: Left,
    /// Why, in words and numbers.
    pub reason: String,
}

impl Weighed {
    /// Whether it came without being counted up to.
    pub(super) fn is_sudden(&self) -> bool {
        let counted = matches!(self.trigger, Trigger::Shots | Trigger::Days);
        !counted && self.condition == Condition::Due
    }
}

/// Weighs each trigger of a rule by itself; none if the rule, or one of its triggers, has nothing to say
/// of the part.
///
/// Days count from the club's date on which the work was last done, else on which the part was first
/// fitted; without that they say nothing. A nocking point is due besides when the string or its serving
/// was changed since it was last set. A string settles from its first fitting on.
///
/// # Formula
/// With count `c`: overdue if `c >= retire`, or without such a limit if `c > plan + grace`; due if
/// `c >= plan`; nearing if `c >= plan - notice`. Retiring by the calendar is on the day that the
/// beginning and so many months fall on.
///
/// A finding of a grade at which it matters is due if it was made after the work was last done, and
/// still stands (see [`super::standing`]). An incident is due if it happened after the work was last
/// done.
///
/// With life `n`, of which `m` at the last check, and checks at `k`: a check is due if some `k <= n`
/// has no check with `m >= k`. From twice the last `k` on nothing is asked any more.
///
/// # Example
/// See [`super::assess`].
#[must_use]
pub fn weigh(rule: &Rule, record: &PartRecord, zone: &Zone, today: Date) -> Option<Vec<Weighed>> {
    let reading = record.reading(rule.task.clock())?;
    let on = Weighing { rule, record, reading, zone, today };
    match rule.task {
        RuleTask::SightIn => None,
        RuleTask::SettleIn => Some(vec![on.settling()?]),
        RuleTask::CheckSettling => Some(vec![on.settling_check()?]),
        _ => on.all(),
    }
}

/// A part as one rule looks at it.
struct Weighing<'a> {
    rule: &'a Rule,
    record: &'a PartRecord,
    reading: Reading,
    zone: &'a Zone,
    today: Date,
}

impl Weighing<'_> {
    fn all(&self) -> Option<Vec<Weighed>> {
        let limits = &self.rule.limits;
        let opened_at = self.reading.reset_at.or(self.record.first_fitted_at);
        let mut weighed = Vec::with_capacity(2);
        weighed.extend(limits.shots.map(|limits| self.by_shots(limits)));
        if let Some(days) = limits.days {
            match opened_at {
                Some(at) => weighed.push(self.by_days(self.zone.date_of(at), days)),
                None if limits.combine == super::Combine::All => return None,
                None => {}
            }
        }
        weighed.extend(self.by_change());
        weighed.extend(limits.finding.as_ref().map(|trigger| self.by_finding(trigger)));
        weighed.extend((!limits.incidents.is_empty()).then(|| self.by_incident()));
        Some(weighed)
    }

    fn by_shots(&self, limits: ShotLimits) -> Weighed {
        let (count, plan) = (self.reading.shots, i64::from(limits.plan));
        let (condition, limit) = match limits.retire.map(i64::from) {
            Some(retire) if count >= retire => (Condition::Overdue, retire),
            None if count > plan + i64::from(limits.grace) => (Condition::Overdue, plan),
            _ if count >= plan => (Condition::Due, plan),
            _ if count >= plan - i64::from(limits.notice) => (Condition::Nearing, plan),
            _ => (Condition::Sound, plan),
        };
        let retire = limits.retire.map(|at| format!("retire at {}", grouped(at.into())));
        let named = [Some(format!("plan {}", grouped(plan))), retire];
        let left = Left { shots: Some(limit - count), ..Left::default() };
        let reason = self.counted(count, "shots", named);
        Weighed { trigger: Trigger::Shots, condition, count, limit, left, reason }
    }

    fn by_days(&self, from: Date, limits: DayLimits) -> Weighed {
        let count = days_between(from, self.today);
        let notice = i64::from(limits.notice);
        let retire =
            limits.retire_months.map(|months| days_between(from, add_months(from, months)));
        let plan = limits.plan.map(i64::from);
        let (condition, limit) = match (plan, retire) {
            (_, Some(retire)) if count >= retire => (Condition::Overdue, retire),
            (Some(plan), None) if count > plan + i64::from(limits.grace) => {
                (Condition::Overdue, plan)
            }
            (Some(plan), _) if count >= plan => (Condition::Due, retire.unwrap_or(plan)),
            (Some(plan), _) if notice > 0 && count >= plan - notice => (Condition::Nearing, plan),
            (None, Some(retire)) if count >= retire - notice => (Condition::Nearing, retire),
            (plan, retire) => (Condition::Sound, plan.or(retire).unwrap_or(i64::MAX)),
        };
        let named = [
            plan.map(|plan| format!("plan {}", grouped(plan))),
            limits.retire_months.map(|months| format!("retire at {months} months")),
        ];
        let left = Left { until: planned(from, limits), ..Left::default() };
        let reason = self.counted(count, "days", named);
        Weighed { trigger: Trigger::Days, condition, count, limit, left, reason }
    }

    /// What was counted, since when, and every limit of the trigger.
    fn counted(&self, count: i64, unit: &str, limits: [Option<String>; 2]) -> String {
        let since = match (self.reading.clock, self.reading.reset_at, unit) {
            (Clock::Since(work), Some(_), _) => format!("since last {}", work.label()),
            (Clock::Since(work), None, _) => format!("and never {}", work.label()),
            (Clock::Life, _, "days") => "since first fitted".to_owned(),
            (Clock::Life, ..) => "in all".to_owned(),
        };
        let limits: Vec<String> = limits.into_iter().flatten().collect();
        format!("{} {unit} {since}; {}", grouped(count), limits.join(", "))
    }

    /// A nocking point is off when the string it is on, or the serving, was changed since it was set.
    fn by_change(&self) -> Option<Weighed> {
        let asks = self.rule.task == RuleTask::CheckNockingPoint;
        let changed_at = self.record.changed_at.filter(|_| asks)?;
        if self.done_since(changed_at) {
            return None;
        }
        let on = self.zone.date_of(changed_at);
        Some(Weighed {
            trigger: Trigger::Change,
            condition: Condition::Due,
            count: self.reading.shots,
            limit: 0,
            left: Left { shots: Some(0), ..Left::default() },
            reason: format!("string or serving changed on {on}, and not set since"),
        })
    }

    fn by_finding(&self, trigger: &FindingTrigger) -> Weighed {
        let named = |finding| trigger.any_of.is_empty() || trigger.any_of.contains(&finding);
        let found = self.record.seen.found.iter();
        let found = found.filter(|found| named(found.finding) && !self.done_since(found.at));
        let worst = found.max_by_key(|found| (found.grade, found.at));
        let from = trigger.from.number();
        let count = worst.map_or(0, |found| found.grade.number());
        let condition = if count >= from { Condition::Due } else { Condition::Sound };
        let reason = worst.map_or_else(
            || format!("nothing found; asks from grade {from}"),
            |found| {
                let on = self.zone.date_of(found.at);
                format!("{} graded {count} on {on}; asks from grade {from}", found.finding.label())
            },
        );
        let left = sudden(condition);
        let (count, limit) = (count.into(), from.into());
        Weighed { trigger: Trigger::Finding, condition, count, limit, left, reason }
    }

    fn by_incident(&self) -> Weighed {
        let asked = &self.rule.limits.incidents;
        let happened = self.record.seen.happened.iter();
        let happened: Vec<_> =
            happened.filter(|one| asked.contains(&one.kind) && !self.done_since(one.at)).collect();
        let last = happened.iter().max_by_key(|one| one.at);
        let condition = if last.is_some() { Condition::Due } else { Condition::Sound };
        let since = match self.reading.clock {
            Clock::Since(work) => format!(", and not {} since", work.label()),
            Clock::Life => String::new(),
        };
        let reason = last.map_or_else(
            || {
                let kinds: Vec<&str> =
                    asked.iter().map(|kind| IncidentKind::label(*kind)).collect();
                format!("no {} on record", kinds.join(" or "))
            },
            |one| format!("{} on {}{since}", one.kind.label(), self.zone.date_of(one.at)),
        );
        let count = i64::try_from(happened.len()).unwrap_or(i64::MAX);
        let left = sudden(condition);
        Weighed { trigger: Trigger::Incident, condition, count, limit: 1, left, reason }
    }

    /// Whether the work was done at a moment or after it.
    fn done_since(&self, at: Timestamp) -> bool {
        self.reading.reset_at.is_some_and(|reset_at| reset_at >= at)
    }

    /// A new part is settling from its first fitting until it has had the shots to be trusted.
    fn settling(&self) -> Option<Weighed> {
        let plan = i64::from(self.rule.limits.shots?.plan);
        let count = self.record.life_shots();
        self.record.first_fitted_at?;
        let settled = count >= plan;
        let condition = if settled { Condition::Sound } else { Condition::Settling };
        let left = Left { shots: (!settled).then_some(plan - count), ..Left::default() };
        let reason = if settled {
            format!("settled: {} shots, trusted from {}", grouped(count), grouped(plan))
        } else {
            format!("{} of {} settle-in shots", grouped(count), grouped(plan))
        };
        Some(Weighed { trigger: Trigger::Shots, condition, count, limit: plan, left, reason })
    }

    /// Whether a check of a settling string is due, by the counts at which it is to be checked.
    fn settling_check(&self) -> Option<Weighed> {
        self.record.first_fitted_at?;
        let life = self.record.life_shots();
        let checks = || self.rule.limits.checks_at.iter().map(|&at| i64::from(at));
        let last = checks().max()?;
        if life >= last.max(1) * 2 {
            return None;
        }
        let checked_at = self.reading.reset_at.map(|_| life - self.reading.shots);
        let reached = checks().filter(|&at| at <= life).max();
        let due = reached.filter(|&at| checked_at.is_none_or(|checked| checked < at));
        let next = checks().filter(|&at| at > life).min();
        let condition = if due.is_some() { Condition::Due } else { Condition::Sound };
        let limit = due.or(next).unwrap_or(last);
        let left = Left { shots: due.or(next).map(|at| at - life), ..Left::default() };
        let counts = checks().map(grouped).collect::<Vec<_>>().join(", ");
        let before = checked_at.map_or_else(
            || "never checked".to_owned(),
            |at| format!("last checked at {}", grouped(at)),
        );
        let reason = format!("{} shots on it; check at {counts}; {before}", grouped(life));
        Some(Weighed { trigger: Trigger::Shots, condition, count: life, limit, left, reason })
    }
}

/// What is left by a trigger that nobody can foresee.
fn sudden(condition: Condition) -> Left {
    Left { shots: (condition == Condition::Due).then_some(0), ..Left::default() }
}

/// The day that the calendar plans the work for.
fn planned(from: Date, limits: DayLimits) -> Option<Date> {
    let plan = limits.plan.map(|days| from.saturating_add(Span::new().days(i64::from(days))));
    plan.or_else(|| limits.retire_months.map(|months| add_months(from, months)))
}

fn days_between(from: Date, to: Date) -> i64 {
    from.until(to).map_or(0, |span| i64::from(span.get_days()))
}

/// The same day of the month, `months` later; the month's last day where it has no such day.
fn add_months(from: Date, months: u32) -> Date {
    from.saturating_add(Span::new().months(i64::from(months)))
}

/// A whole number with its thousands set apart.
pub(crate) fn grouped(number: i64) -> String {
    let digits = number.unsigned_abs().to_string();
    let mut text = String::with_capacity(digits.len() + digits.len() / 3 + 1);
    if number < 0 {
        text.push('-');
    }
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests;
