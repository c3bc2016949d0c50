//! The arithmetic behind what is said of a part: fittings times logs, clock by clock, and every rule
//! that was asked with every trigger of it.

use jiff::{Timestamp, civil::Date};

use crate::{
    ids::BowId,
    ledger::{Clock, Reading},
    rules::{Assessment, PartRecord, Rule, Trigger, Weighed, applying, assess, weigh},
    time::Zone,
};

/// What one clock of a part counted, term by term.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    /// Which clock.
    pub clock: Clock,
    /// When the work was last done that set it back; none if it never was.
    pub reset_at: Option<Timestamp>,
    /// The shots that the part came with, as far as this clock counts them.
    pub came_with: i64,
    /// What was logged in each stretch under a bow, oldest first.
    pub terms: Vec<Term>,
}

/// What was logged while a part was under one bow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Term {
    /// Under which bow.
    pub bow: BowId,
    /// From when on the clock counts there.
    pub from: Timestamp,
    /// Until just before when; none if it goes on.
    pub to: Option<Timestamp>,
    /// How many logs.
    pub logs: i64,
    /// How many shots.
    pub shots: i64,
}

impl Tally {
    /// The sum of its terms and of what the part came with.
    #[must_use]
    pub fn shots(&self) -> i64 {
        self.came_with + self.terms.iter().map(|term| term.shots).sum::<i64>()
    }

    /// What the clock shows.
    #[must_use]
    pub fn reading(&self) -> Reading {
        Reading { clock: self.clock, shots: self.shots(), reset_at: self.reset_at }
    }
}

/// A rule for the kind of part, and what it says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// The rule, as it was in force.
    pub rule: Rule,
    /// Whether it spoke; a rule with a narrower scope for the same work goes before it.
    pub speaks: bool,
    /// How far each of its triggers has come; empty if it has nothing to say.
    pub triggers: Vec<Weighed>,
}

/// Everything that led to what is said of a part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Account {
    /// What is known of the part.
    pub record: PartRecord,
    /// What each of its clocks counted.
    pub tallies: Vec<Tally>,
    /// What the rules together say.
    pub assessment: Assessment,
    /// Every rule for the kind of part that covers it, those that speak first.
    pub asked: Vec<Asked>,
}

/// Every trigger of a rule, and the next event where that is why its work is announced.
fn triggers(
    rule: &Rule,
    record: &PartRecord,
    assessment: &Assessment,
    (zone, today): (&Zone, Date),
) -> Vec<Weighed> {
    let mut all = weigh(rule, record, zone, today).unwrap_or_default();
    let spoke = assessment.verdicts.iter().find(|verdict| verdict.rule_id == rule.id);
    if let (Some(verdict), Some(event)) =
        (spoke.filter(|one| one.trigger == Trigger::Event), record.seen.ahead.as_ref())
    {
        all.push(Weighed {
            trigger: Trigger::Event,
            condition: verdict.condition,
            count: event.shots_by_end,
            limit: verdict.left.shots.unwrap_or(0),
            left: verdict.left,
            reason: verdict.reason.clone(),
        });
    }
    all
}

impl Account {
    /// Whether the part was neither made, nor fitted, nor on record at a moment.
    #[must_use]
    pub fn is_before_its_time(&self, zone: &Zone, at: Timestamp) -> bool {
        let PartRecord { part, first_fitted_at, .. } = &self.record;
        let made = part.made_on.is_some_and(|made_on| made_on <= zone.date_of(at));
        part.created_at > at && first_fitted_at.is_none_or(|fitted| fitted > at) && !made
    }

    /// The account of a part by the rules that were in force.
    ///
    /// `record.readings` must be those of the tallies.
    ///
    /// # Example
    /// See `assess` in [`crate::rules`], whose verdicts it takes apart.
    #[must_use]
    pub fn of(
        record: PartRecord,
        tallies: Vec<Tally>,
        rules: &[Rule],
        zone: &Zone,
        today: Date,
    ) -> Self {
        let assessment = assess(&record, rules, zone, today);
        let speaking: Vec<_> = applying(rules, &record).iter().map(|rule| rule.id).collect();
        let covers =
            |rule: &&Rule| rule.part_kind == record.part.kind && rule.scope.covers(&record);
        let mut asked: Vec<Asked> = rules
            .iter()
            .filter(covers)
            .map(|rule| Asked {
                rule: rule.clone(),
                speaks: speaking.contains(&rule.id),
                triggers: triggers(rule, &record, &assessment, (zone, today)),
            })
            .collect();
        let worst = |one: &Asked| {
            let verdict = assessment.verdicts.iter().position(|v| v.rule_id == one.rule.id);
            (!one.speaks, verdict.is_none(), verdict, one.rule.task)
        };
        asked.sort_by_key(worst);
        Self { record, tallies, assessment, asked }
    }
}
