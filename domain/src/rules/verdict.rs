//! What one rule says of one part.

use jiff::{Span, civil::Date};

use super::{Condition, DayLimits, Rule, ShotLimits};
use crate::{
    ids::RuleId,
    ledger::{Clock, Reading},
    words::words,
};

words! {
    /// Which of a rule's limits spoke.
    pub enum Trigger {
        /// The count of shots.
        Shots = "shots",
        /// The calendar.
        Days = "days",
    }
}

/// What one rule says of one part, in a word and in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verdict {
    /// Which rule.
    pub rule_id: RuleId,
    /// Which work it asks for.
    pub task: super::RuleTask,
    /// What it makes of the part.
    pub condition: Condition,
    /// Which limit decided.
    pub trigger: Trigger,
    /// What that limit's count stands at: shots or days.
    pub count: i64,
    /// The limit that is next or was last passed, in the same unit.
    pub limit: i64,
    /// Why, in words and numbers.
    pub reason: String,
}

/// Judges a part by a rule: each trigger by itself, then the more urgent one (shots if equal).
///
/// `reading` is the rule's own clock, `opened_on` the club's date at which its days began to
/// count: when the work was last done, else when the part was first fitted. Without it the days
/// say nothing.
///
/// # Formula
/// With count `c`: overdue if `c >= retire`, or without such a limit if `c > plan + grace`; due if
/// `c >= plan`; nearing if `c >= plan - notice`. Days count from `opened_on`; retiring by the
/// calendar is on the day `opened_on + months` falls on.
///
/// # Example
/// See [`super::assess`], which calls this for each rule of a part.
#[must_use]
pub fn judge(
    rule: &Rule,
    reading: Reading,
    opened_on: Option<Date>,
    today: Date,
) -> Option<Verdict> {
    let by_shots = rule.shots.map(|limits| by_shots(reading.shots, limits));
    let by_days = rule.days.zip(opened_on).map(|(limits, from)| by_days(from, today, limits));
    let finding = match (by_shots, by_days) {
        (Some(shots), Some(days)) if days.condition < shots.condition => days,
        (Some(shots), _) => shots,
        (None, days) => days?,
    };
    Some(Verdict {
        rule_id: rule.id,
        task: rule.task,
        condition: finding.condition,
        trigger: finding.trigger,
        count: finding.count,
        limit: finding.limit,
        reason: reason(rule, reading, &finding),
    })
}

/// What one trigger found.
struct Finding {
    condition: Condition,
    trigger: Trigger,
    count: i64,
    limit: i64,
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
    Finding { condition, trigger: Trigger::Shots, count, limit }
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
    Finding { condition, trigger: Trigger::Days, count, limit }
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
        (Clock::Life, _, Trigger::Shots) => "in all".to_owned(),
        (Clock::Life, _, Trigger::Days) => "since first fitted".to_owned(),
    };
    let (plan, retire) = match finding.trigger {
        Trigger::Shots => {
            let retire = rule.shots.and_then(|limits| limits.retire);
            (rule.shots.map(|limits| limits.plan), retire.map(|at| grouped(at.into())))
        }
        Trigger::Days => {
            let months = rule.days.and_then(|limits| limits.retire_months);
            (rule.days.and_then(|limits| limits.plan), months.map(|n| format!("{n} months")))
        }
    };
    let plan = plan.map(|plan| format!("plan {}", grouped(plan.into())));
    let retire = retire.map(|at| format!("retire at {at}"));
    let limits: Vec<String> = plan.into_iter().chain(retire).collect();
    format!("{} {unit} {since}; {}", grouped(finding.count), limits.join(", "))
}

/// A whole number with its thousands set apart.
fn grouped(number: i64) -> String {
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
mod tests {
    use jiff::{Timestamp, civil::date};
    use uuid::Uuid;

    use super::*;
    use crate::{
        parts::PartKind,
        rules::{RuleTask, default_book},
        upkeep::UpkeepTask,
    };

    fn rule(kind: PartKind, task: RuleTask) -> Rule {
        default_book(Timestamp::UNIX_EPOCH, || RuleId(Uuid::nil()))
            .into_iter()
            .find(|rule| rule.part_kind == kind && rule.task == task)
            .unwrap()
    }

    fn check(rule: &Rule, shots: i64, days: i64, condition: Condition, reason: &str) {
        let today = date(2027, 6, 1);
        let opened = today.checked_sub(Span::new().days(days)).unwrap();
        let reset_at = Some(Timestamp::UNIX_EPOCH);
        let reading = Reading { clock: rule.task.clock(), shots, reset_at };
        let verdict = judge(rule, reading, Some(opened), today).unwrap();
        assert_eq!(
            (verdict.condition, verdict.reason.as_str()),
            (condition, reason),
            "{shots} shots, {days} days"
        );
    }

    #[test]
    fn waxing_comes_by_shots_or_by_days_whichever_is_first() {
        let wax = rule(PartKind::Bowstring, RuleTask::Wax);
        check(&wax, 399, 0, Condition::Sound, "399 shots since last waxed; plan 500");
        check(&wax, 400, 0, Condition::Nearing, "400 shots since last waxed; plan 500");
        check(&wax, 500, 0, Condition::Due, "500 shots since last waxed; plan 500");
        check(&wax, 600, 0, Condition::Due, "600 shots since last waxed; plan 500");
        check(&wax, 601, 0, Condition::Overdue, "601 shots since last waxed; plan 500");
        check(&wax, 10, 11, Condition::Nearing, "11 days since last waxed; plan 14");
        check(&wax, 10, 14, Condition::Due, "14 days since last waxed; plan 14");
        check(&wax, 10, 18, Condition::Overdue, "18 days since last waxed; plan 14");
        check(&wax, 550, 14, Condition::Due, "550 shots since last waxed; plan 500");
    }

    #[test]
    fn a_serving_is_inspected_and_in_the_end_wound_anew() {
        let inspect = rule(PartKind::CenterServing, RuleTask::Inspect);
        check(&inspect, 850, 29, Condition::Nearing, "850 shots since last inspected; plan 1,000");
        check(&inspect, 0, 29, Condition::Sound, "0 shots since last inspected; plan 1,000");
        check(&inspect, 0, 30, Condition::Due, "30 days since last inspected; plan 30");
        let re_serve = rule(PartKind::CenterServing, RuleTask::ReServe);
        check(&re_serve, 2_699, 400, Condition::Sound, "2,699 shots in all; plan 3,000");
        check(&re_serve, 2_700, 0, Condition::Nearing, "2,700 shots in all; plan 3,000");
        check(&re_serve, 3_601, 0, Condition::Overdue, "3,601 shots in all; plan 3,000");
    }

    #[test]
    fn a_string_is_planned_at_15000_and_retired_at_30000_or_36_months() {
        let change = rule(PartKind::Bowstring, RuleTask::Change);
        let shots = |count: &str| format!("{count} shots in all; plan 15,000, retire at 30,000");
        check(&change, 13_499, 0, Condition::Sound, &shots("13,499"));
        check(&change, 13_500, 0, Condition::Nearing, &shots("13,500"));
        check(&change, 15_000, 0, Condition::Due, &shots("15,000"));
        check(&change, 29_999, 0, Condition::Due, &shots("29,999"));
        check(&change, 30_000, 0, Condition::Overdue, &shots("30,000"));
        // 2024-06-01 to 2027-06-01 holds no 29 February: 1,095 days.
        let words = "1,095 days since first fitted; retire at 36 months";
        check(&change, 100, 1_095, Condition::Overdue, words);
    }

    #[test]
    fn work_that_is_not_on_record_counts_the_whole_life() {
        let wax = rule(PartKind::Bowstring, RuleTask::Wax);
        let clock = Clock::Since(UpkeepTask::Waxed);
        let reading = Reading { clock, shots: 12_345, reset_at: None };
        let verdict = judge(&wax, reading, None, date(2027, 6, 1)).unwrap();
        assert_eq!(verdict.reason, "12,345 shots and never waxed; plan 500");
    }
}
