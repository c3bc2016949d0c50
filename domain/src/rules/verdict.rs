//! What one rule says of one part.

use jiff::{Span, civil::Date};

use super::{Condition, DayLimits, PartRecord, Rule, RuleTask, ShotLimits};
use crate::{
    ids::RuleId,
    ledger::{Clock, Reading},
    time::Zone,
    words::words,
};

words! {
    /// Which of a rule's limits spoke.
    pub enum Trigger {
        /// The count of shots.
        Shots = "shots",
        /// The calendar.
        Days = "days",
        /// The string or its serving was changed since.
        Change = "change",
    }
}

/// What one rule says of one part, in a word and in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verdict {
    /// Which rule.
    pub rule_id: RuleId,
    /// Which work it asks for.
    pub task: RuleTask,
    /// What it makes of the part.
    pub condition: Condition,
    /// Which limit decided.
    pub trigger: Trigger,
    /// What that limit's count stands at: shots or days.
    pub count: i64,
    /// The limit that is next or was last passed, in the same unit.
    pub limit: i64,
    /// What is left until the work is to be done.
    pub left: Left,
    /// Why, in words and numbers.
    pub reason: String,
}

/// What is left until work is to be done; what comes first counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Left {
    /// So many shots; zero or less when it is due.
    pub shots: Option<i64>,
    /// Until this day by the calendar.
    pub until: Option<Date>,
}

/// Judges a part by a rule; none if the rule has nothing to say of it.
///
/// Work is judged by each trigger by itself, then the most urgent one speaks (shots if equal). A
/// nocking point is due besides when the string or its serving was changed since it was last set.
/// Days count from the club's date on which the work was last done, else on which the part was first
/// fitted; without that they say nothing. A string settles from its first fitting on.
///
/// # Formula
/// With count `c`: overdue if `c >= retire`, or without such a limit if `c > plan + grace`; due if
/// `c >= plan`; nearing if `c >= plan - notice`. Retiring by the calendar is on the day that the
/// beginning and so many months fall on.
///
/// With life `n`, of which `m` at the last check, and checks at `k`: a check is due if some `k <= n`
/// has no check with `m >= k`. From twice the last `k` on nothing is asked any more.
///
/// # Example
/// See [`super::assess`], which calls this for each rule of a part.
#[must_use]
pub fn judge(rule: &Rule, record: &PartRecord, zone: &Zone, today: Date) -> Option<Verdict> {
    let reading = record.reading(rule.task.clock())?;
    match rule.task {
        RuleTask::SightIn => None,
        RuleTask::SettleIn => settling(rule, record),
        RuleTask::CheckSettling => settling_check(rule, record, reading),
        _ => {
            let opened_at = reading.reset_at.or(record.first_fitted_at);
            let opened_on = opened_at.map(|at| zone.date_of(at));
            let by_shots = rule.limits.shots.map(|limits| by_shots(reading.shots, limits));
            let by_days =
                rule.limits.days.zip(opened_on).map(|(limits, from)| by_days(from, today, limits));
            let by_change = changed_since(rule, record, reading, zone);
            let left = Left {
                shots: by_shots.as_ref().map(|finding| finding.limit - finding.count),
                until: rule
                    .limits
                    .days
                    .zip(opened_on)
                    .and_then(|(limits, from)| planned(from, limits)),
            };
            let findings = [by_shots, by_days, by_change].into_iter().flatten();
            // The first of several that are equally urgent.
            let finding = findings.reduce(|a, b| if b.condition < a.condition { b } else { a })?;
            let left = if finding.trigger == Trigger::Change {
                Left { shots: Some(0), until: None }
            } else {
                left
            };
            let reason = finding.reason.clone().unwrap_or_else(|| reason(rule, reading, &finding));
            Some(finding.verdict(rule, left, reason))
        }
    }
}

/// A new part is settling from its first fitting until it has had the shots to be trusted.
fn settling(rule: &Rule, record: &PartRecord) -> Option<Verdict> {
    let (plan, count) = (i64::from(rule.limits.shots?.plan), record.life_shots());
    record.first_fitted_at?;
    let condition = if count < plan { Condition::Settling } else { Condition::Sound };
    let left = Left { shots: (count < plan).then_some(plan - count), until: None };
    let finding = Finding { condition, ..Finding::of_shots(count, plan) };
    let reason = format!("{} of {} settle-in shots", grouped(count), grouped(plan));
    Some(finding.verdict(rule, left, reason))
}

/// Whether a check of a settling string is due, by the counts at which it is to be checked.
fn settling_check(rule: &Rule, record: &PartRecord, reading: Reading) -> Option<Verdict> {
    record.first_fitted_at?;
    let life = record.life_shots();
    let checks = || rule.limits.checks_at.iter().map(|&at| i64::from(at));
    let last = checks().max()?;
    if life >= last.max(1) * 2 {
        return None;
    }
    let checked_at = reading.reset_at.map(|_| life - reading.shots);
    let reached = checks().filter(|&at| at <= life).max();
    let due = reached.filter(|&at| checked_at.is_none_or(|checked| checked < at));
    let next = checks().filter(|&at| at > life).min();
    let condition = if due.is_some() { Condition::Due } else { Condition::Sound };
    let limit = due.or(next).unwrap_or(last);
    let left = Left { shots: due.or(next).map(|at| at - life), until: None };
    let counts = checks().map(grouped).collect::<Vec<_>>().join(", ");
    let before = checked_at.map_or_else(
        || "never checked".to_owned(),
        |at| format!("last checked at {}", grouped(at)),
    );
    let reason = format!("{} shots on it; check at {counts}; {before}", grouped(life));
    let finding = Finding { condition, ..Finding::of_shots(life, limit) };
    Some(finding.verdict(rule, left, reason))
}

/// A nocking point is off when the string it is on, or the serving, was changed since it was set.
fn changed_since(
    rule: &Rule,
    record: &PartRecord,
    reading: Reading,
    zone: &Zone,
) -> Option<Finding> {
    let changed_at = record.changed_at.filter(|_| rule.task == RuleTask::CheckNockingPoint)?;
    if reading.reset_at.is_some_and(|set_at| set_at >= changed_at) {
        return None;
    }
    let on = zone.date_of(changed_at);
    Some(Finding {
        condition: Condition::Due,
        trigger: Trigger::Change,
        count: reading.shots,
        limit: 0,
        reason: Some(format!("string or serving changed on {on}, and not set since")),
    })
}

/// The day that the calendar plans the work for.
fn planned(from: Date, limits: DayLimits) -> Option<Date> {
    let plan = limits.plan.map(|days| from.saturating_add(Span::new().days(i64::from(days))));
    plan.or_else(|| limits.retire_months.map(|months| add_months(from, months)))
}

/// What one trigger found.
struct Finding {
    condition: Condition,
    trigger: Trigger,
    count: i64,
    limit: i64,
    /// Why, where it is not the count.
    reason: Option<String>,
}

impl Finding {
    const fn of_shots(count: i64, limit: i64) -> Self {
        Self { condition: Condition::Sound, trigger: Trigger::Shots, count, limit, reason: None }
    }

    fn verdict(self, rule: &Rule, left: Left, reason: String) -> Verdict {
        Verdict {
            rule_id: rule.id,
            task: rule.task,
            condition: self.condition,
            trigger: self.trigger,
            count: self.count,
            limit: self.limit,
            left,
            reason,
        }
    }
}

fn by_shots(count: i64, limits: ShotLimits) -> Finding {
    let plan = i64::from(limits.plan);
    let (condition, limit) = match limits.retire.map(i64::from) {
        Some(retire) if count >= retire => (Condition::Overdue, retire),
        None if count > plan + i64::from(limits.grace) => (Condition::Overdue, plan),
        _ if count >= plan => (Condition::Due, plan),
        _ if count >= plan - i64::from(limits.notice) => (Condition::Nearing, plan),
        _ => (Condition::Sound, plan),
    };
    Finding { condition, ..Finding::of_shots(count, limit) }
}

fn by_days(from: Date, today: Date, limits: DayLimits) -> Finding {
    let count = days_between(from, today);
    let notice = i64::from(limits.notice);
    let retire = limits.retire_months.map(|months| days_between(from, add_months(from, months)));
    let plan = limits.plan.map(i64::from);
    let (condition, limit) = match (plan, retire) {
        (_, Some(retire)) if count >= retire => (Condition::Overdue, retire),
        (Some(plan), None) if count > plan + i64::from(limits.grace) => (Condition::Overdue, plan),
        (Some(plan), _) if count >= plan => (Condition::Due, retire.unwrap_or(plan)),
        (Some(plan), _) if notice > 0 && count >= plan - notice => (Condition::Nearing, plan),
        (None, Some(retire)) if count >= retire - notice => (Condition::Nearing, retire),
        (plan, retire) => (Condition::Sound, plan.or(retire).unwrap_or(i64::MAX)),
    };
    Finding { condition, trigger: Trigger::Days, count, limit, reason: None }
}

fn days_between(from: Date, to: Date) -> i64 {
    from.until(to).map_or(0, |span| i64::from(span.get_days()))
}

/// The same day of the month, `months` later; the month's last day where it has no such day.
fn add_months(from: Date, months: u32) -> Date {
    from.saturating_add(Span::new().months(i64::from(months)))
}

/// What was counted, since when, and every limit of the trigger that spoke.
fn reason(rule: &Rule, reading: Reading, finding: &Finding) -> String {
    let unit = finding.trigger.as_str();
    let since = match (reading.clock, reading.reset_at, finding.trigger) {
        (Clock::Since(work), Some(_), _) => format!("since last {}", work.label()),
        (Clock::Since(work), None, _) => format!("and never {}", work.label()),
        (Clock::Life, _, Trigger::Shots | Trigger::Change) => "in all".to_owned(),
        (Clock::Life, _, Trigger::Days) => "since first fitted".to_owned(),
    };
    let (plan, retire) = match finding.trigger {
        Trigger::Shots | Trigger::Change => {
            let retire = rule.limits.shots.and_then(|limits| limits.retire);
            (rule.limits.shots.map(|limits| limits.plan), retire.map(|at| grouped(at.into())))
        }
        Trigger::Days => {
            let months = rule.limits.days.and_then(|limits| limits.retire_months);
            (rule.limits.days.and_then(|limits| limits.plan), months.map(|n| format!("{n} months")))
        }
    };
    let plan = plan.map(|plan| format!("plan {}", grouped(plan.into())));
    let retire = retire.map(|at| format!("retire at {at}"));
    let limits: Vec<String> = plan.into_iter().chain(retire).collect();
    format!("{} {unit} {since}; {}", grouped(finding.count), limits.join(", "))
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
