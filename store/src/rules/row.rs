//! Rules and their settings as rows.

use std::collections::BTreeSet;

use diesel::prelude::*;
use domain::{
    bows::Division,
    ids::{BowId, ClubId, MemberId, RuleId, SquadId},
    incidents::IncidentKind,
    parts::PartKind,
    rules::{
        Combine, DayLimits, FindingTrigger, Limits, Material, Provenance, Rule, RuleTask, Scope,
        Setting, ShotLimits,
    },
    text::Name,
    upkeep::{Finding, Grade},
};

use crate::{
    StoreError,
    schema::{rule_settings, rules},
    sql_types::{Day, Key, Utc},
};

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = rules, treat_none_as_default_value = false)]
pub(super) struct RuleRow {
    club_id: Key,
    id: Key,
    part_kind: String,
    task: String,
    scope: String,
    scope_word: Option<String>,
    scope_id: Option<Key>,
    version: i32,
}

#[derive(Queryable, Selectable, Insertable)]
#[diesel(table_name = rule_settings, treat_none_as_default_value = false)]
pub(super) struct SettingRow {
    club_id: Key,
    rule_id: Key,
    version: i32,
    effective_on: Option<Day>,
    withdrawn: bool,
    combine: String,
    plan_shots: Option<i32>,
    notice_shots: Option<i32>,
    grace_shots: Option<i32>,
    retire_shots: Option<i32>,
    checks_at_shots: Option<String>,
    plan_days: Option<i32>,
    notice_days: Option<i32>,
    grace_days: Option<i32>,
    retire_months: Option<i32>,
    notice_event_days: Option<i32>,
    findings: Option<String>,
    from_grade: Option<i32>,
    incidents: Option<String>,
    source: String,
    set_at: Utc,
    set_by_member_id: Option<Key>,
}

impl RuleRow {
    pub(super) fn of(club: ClubId, rule: &Rule) -> Self {
        let (scope_word, scope_id) = match &rule.scope {
            Scope::Club => (None, None),
            Scope::Division(division) => (Some(division.as_str().to_owned()), None),
            Scope::Material(material) => (Some(material.to_string()), None),
            Scope::Squad(squad) => (None, Some(Key(squad.0))),
            Scope::Bow(bow) => (None, Some(Key(bow.0))),
        };
        Self {
            club_id: Key(club.0),
            id: Key(rule.id.0),
            part_kind: rule.part_kind.as_str().to_owned(),
            task: rule.task.as_str().to_owned(),
            scope: rule.scope.as_str().to_owned(),
            scope_word,
            scope_id,
            version: rule.version,
        }
    }

    fn bad(&self, column: &'static str, found: &str) -> StoreError {
        let (id, found) = (self.id.0, found.to_owned());
        StoreError::Inconsistent { table: "rules", column, id, found }
    }

    fn scope(&self) -> Result<Scope, StoreError> {
        let word = self.scope_word.as_deref().unwrap_or_default();
        let found = match (self.scope.as_str(), self.scope_id) {
            ("club", None) => Some(Scope::Club),
            ("division", None) => Division::parse(word).map(Scope::Division),
            ("material", None) => Name::parse(word).ok().map(Material::new).map(Scope::Material),
            ("squad", Some(id)) => Some(Scope::Squad(SquadId(id.0))),
            ("bow", Some(id)) => Some(Scope::Bow(BowId(id.0))),
            _ => None,
        };
        found.ok_or_else(|| self.bad("scope", &format!("{} {word}", self.scope)))
    }
}

impl SettingRow {
    pub(super) fn of(club: ClubId, rule: &Rule, withdrawn: bool) -> Self {
        let Limits { combine, shots, days, finding, incidents, event_notice_days, checks_at } =
            &rule.limits;
        let (shots, days, finding) = (*shots, *days, finding.as_ref());
        let checks: Vec<String> = checks_at.iter().map(ToString::to_string).collect();
        let joined = |words: Vec<&str>| (!words.is_empty()).then(|| words.join(","));
        let named = finding.map(|finding| finding.any_of.iter().map(|one| one.as_str()).collect());
        Self {
            club_id: Key(club.0),
            rule_id: Key(rule.id.0),
            version: rule.version,
            effective_on: rule.effective_on.map(Day),
            withdrawn,
            combine: combine.as_str().to_owned(),
            plan_shots: shots.map(|limits| limits.plan.cast_signed()),
            notice_shots: shots.map(|limits| limits.notice.cast_signed()),
            grace_shots: shots.map(|limits| limits.grace.cast_signed()),
            retire_shots: shots.and_then(|limits| limits.retire).map(u32::cast_signed),
            checks_at_shots: joined(checks.iter().map(String::as_str).collect()),
            plan_days: days.and_then(|limits| limits.plan).map(u32::cast_signed),
            notice_days: days.map(|limits| limits.notice.cast_signed()),
            grace_days: days.map(|limits| limits.grace.cast_signed()),
            retire_months: days.and_then(|limits| limits.retire_months).map(u32::cast_signed),
            notice_event_days: event_notice_days.map(u32::cast_signed),
            findings: named.and_then(joined),
            from_grade: finding.map(|finding| finding.from.number()),
            incidents: joined(incidents.iter().map(|kind| kind.as_str()).collect()),
            source: rule.provenance.source.clone(),
            set_at: Utc(rule.provenance.set_at),
            set_by_member_id: rule.provenance.set_by.map(|member| Key(member.0)),
        }
    }

    /// The setting of that rule.
    pub(super) fn with(self, rule: &RuleRow) -> Result<Setting, StoreError> {
        let bad = |column, found: &str| rule.bad(column, found);
        let kind =
            PartKind::parse(&rule.part_kind).ok_or_else(|| bad("part_kind", &rule.part_kind));
        let task = RuleTask::parse(&rule.task).ok_or_else(|| bad("task", &rule.task));
        let withdrawn = self.withdrawn;
        let rule = Rule {
            id: RuleId(rule.id.0),
            part_kind: kind?,
            task: task?,
            scope: rule.scope()?,
            limits: self.limits()?,
            effective_on: self.effective_on.map(|day| day.0),
            version: self.version,
            provenance: Provenance {
                set_at: self.set_at.0,
                set_by: self.set_by_member_id.map(|member| MemberId(member.0)),
                source: self.source,
            },
        };
        Ok(Setting { rule, withdrawn })
    }

    fn bad(&self, column: &'static str, found: &dyn ToString) -> StoreError {
        let (id, found) = (self.rule_id.0, found.to_string());
        StoreError::Inconsistent { table: "rule_settings", column, id, found }
    }

    /// A limit, or none; never one below zero.
    fn limit(&self, column: &'static str, n: Option<i32>) -> Result<Option<u32>, StoreError> {
        n.map(|n| u32::try_from(n).map_err(|_negative| self.bad(column, &n))).transpose()
    }

    /// The words of a list, each parsed.
    fn words<T>(
        &self,
        column: &'static str,
        list: Option<&String>,
        parse: impl Fn(&str) -> Option<T>,
    ) -> Result<Vec<T>, StoreError> {
        let words = list.into_iter().flat_map(|list| list.split(','));
        words.map(|word| parse(word).ok_or_else(|| self.bad(column, &word))).collect()
    }

    fn limits(&self) -> Result<Limits, StoreError> {
        let incidents = self.words("incidents", self.incidents.as_ref(), IncidentKind::parse)?;
        let count = |word: &str| word.parse().ok();
        Ok(Limits {
            combine: Combine::parse(&self.combine)
                .ok_or_else(|| self.bad("combine", &self.combine))?,
            shots: self.shots()?,
            days: self.days()?,
            finding: self.finding()?,
            incidents: incidents.into_iter().collect(),
            event_notice_days: self.limit("notice_event_days", self.notice_event_days)?,
            checks_at: self.words("checks_at_shots", self.checks_at_shots.as_ref(), count)?,
        })
    }

    fn shots(&self) -> Result<Option<ShotLimits>, StoreError> {
        let Some(plan) = self.limit("plan_shots", self.plan_shots)? else { return Ok(None) };
        Ok(Some(ShotLimits {
            plan,
            notice: self.limit("notice_shots", self.notice_shots)?.unwrap_or(0),
            grace: self.limit("grace_shots", self.grace_shots)?.unwrap_or(0),
            retire: self.limit("retire_shots", self.retire_shots)?,
        }))
    }

    fn days(&self) -> Result<Option<DayLimits>, StoreError> {
        let Some(notice) = self.limit("notice_days", self.notice_days)? else { return Ok(None) };
        Ok(Some(DayLimits {
            plan: self.limit("plan_days", self.plan_days)?,
            notice,
            grace: self.limit("grace_days", self.grace_days)?.unwrap_or(0),
            retire_months: self.limit("retire_months", self.retire_months)?,
        }))
    }

    fn finding(&self) -> Result<Option<FindingTrigger>, StoreError> {
        let Some(grade) = self.from_grade else { return Ok(None) };
        let from = Grade::new(grade.into()).ok_or_else(|| self.bad("from_grade", &grade))?;
        let named = self.words("findings", self.findings.as_ref(), Finding::parse)?;
        let any_of: BTreeSet<Finding> = named.into_iter().collect();
        Ok(Some(FindingTrigger { any_of, from }))
    }
}
