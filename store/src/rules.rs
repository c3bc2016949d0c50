//! A club's rule book.

use diesel::{
    prelude::*,
    result::{DatabaseErrorKind, Error as DieselError},
};
use domain::{
    ids::{ClubId, MemberId, RuleId},
    parts::PartKind,
    rules::{DayLimits, Provenance, Rule, RuleTask, ShotLimits},
};

use crate::{
    Read, StoreError, Tx,
    dialect::{self, Hold},
    error::changed_once,
    schema::rules,
    sql_types::{Key, Utc},
};

#[derive(Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(
    table_name = rules,
    primary_key(club_id, id),
    treat_none_as_default_value = false,
    treat_none_as_null = true
)]
struct RuleRow {
    club_id: Key,
    id: Key,
    part_kind: String,
    task: String,
    plan_shots: Option<i32>,
    notice_shots: Option<i32>,
    grace_shots: Option<i32>,
    retire_shots: Option<i32>,
    checks_at_shots: Option<String>,
    plan_days: Option<i32>,
    notice_days: Option<i32>,
    grace_days: Option<i32>,
    retire_months: Option<i32>,
    source: String,
    set_at: Utc,
    set_by_member_id: Option<Key>,
    version: i32,
}

impl RuleRow {
    fn of(club: ClubId, rule: &Rule) -> Self {
        let (shots, days) = (rule.shots, rule.days);
        let checks: Vec<String> = rule.checks_at.iter().map(ToString::to_string).collect();
        Self {
            club_id: Key(club.0),
            id: Key(rule.id.0),
            part_kind: rule.part_kind.as_str().to_owned(),
            task: rule.task.as_str().to_owned(),
            plan_shots: shots.map(|limits| limits.plan.cast_signed()),
            notice_shots: shots.map(|limits| limits.notice.cast_signed()),
            grace_shots: shots.map(|limits| limits.grace.cast_signed()),
            retire_shots: shots.and_then(|limits| limits.retire).map(u32::cast_signed),
            checks_at_shots: (!checks.is_empty()).then(|| checks.join(",")),
            plan_days: days.and_then(|limits| limits.plan).map(u32::cast_signed),
            notice_days: days.map(|limits| limits.notice.cast_signed()),
            grace_days: days.map(|limits| limits.grace.cast_signed()),
            retire_months: days.and_then(|limits| limits.retire_months).map(u32::cast_signed),
            source: rule.provenance.source.clone(),
            set_at: Utc(rule.provenance.set_at),
            set_by_member_id: rule.provenance.set_by.map(|member| Key(member.0)),
            version: rule.version,
        }
    }

    fn bad(&self, column: &'static str, found: &dyn ToString) -> StoreError {
        StoreError::Inconsistent { table: "rules", column, id: self.id.0, found: found.to_string() }
    }

    /// A limit, or none; never one below zero.
    fn limit(&self, column: &'static str, n: Option<i32>) -> Result<Option<u32>, StoreError> {
        n.map(|n| u32::try_from(n).map_err(|_negative| self.bad(column, &n))).transpose()
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
}

impl RuleRow {
    fn checks_at(&self) -> Result<Vec<u32>, StoreError> {
        let Some(text) = &self.checks_at_shots else { return Ok(Vec::new()) };
        let counts = text.split(',').map(str::parse).collect::<Result<Vec<u32>, _>>();
        counts.map_err(|_bad| self.bad("checks_at_shots", text))
    }
}

impl TryFrom<RuleRow> for Rule {
    type Error = StoreError;

    fn try_from(row: RuleRow) -> Result<Self, StoreError> {
        Ok(Self {
            id: RuleId(row.id.0),
            part_kind: PartKind::parse(&row.part_kind)
                .ok_or_else(|| row.bad("part_kind", &row.part_kind))?,
            task: RuleTask::parse(&row.task).ok_or_else(|| row.bad("task", &row.task))?,
            shots: row.shots()?,
            days: row.days()?,
            checks_at: row.checks_at()?,
            version: row.version,
            provenance: Provenance {
                set_at: row.set_at.0,
                set_by: row.set_by_member_id.map(|member| MemberId(member.0)),
                source: row.source,
            },
        })
    }
}

/// Adds a rule to a club's book.
pub fn add(tx: &mut Tx<'_>, club: ClubId, rule: &Rule) -> Result<(), StoreError> {
    diesel::insert_into(rules::table).values(RuleRow::of(club, rule)).execute(tx.conn())?;
    Ok(())
}

/// Keeps a changed rule. `rule.version` is the one that it was read with; the one that is kept comes
/// after it. A conflict, if somebody else changed it meanwhile.
pub fn change(tx: &mut Tx<'_>, club: ClubId, rule: &Rule) -> Result<Rule, StoreError> {
    let changed = Rule { version: rule.version + 1, ..rule.clone() };
    let row = rules::table.find((Key(club.0), Key(rule.id.0)));
    let kept = diesel::update(row.filter(rules::version.eq(rule.version)))
        .set(RuleRow::of(club, &changed))
        .execute(tx.conn())?;
    changed_once(kept).map(|()| changed)
}

/// Takes a rule out of the book, in the version that it was read with. A conflict, if somebody else
/// changed it meanwhile; refused while a reminder refers to it, and then the transaction is over.
pub fn remove(tx: &mut Tx<'_>, club: ClubId, rule: &Rule) -> Result<(), StoreError> {
    let row = rules::table.find((Key(club.0), Key(rule.id.0)));
    let as_read = row.filter(rules::version.eq(rule.version));
    match diesel::delete(as_read).execute(tx.conn()) {
        Err(DieselError::DatabaseError(DatabaseErrorKind::ForeignKeyViolation, _)) => {
            Err(StoreError::InUse { what: "rule" })
        }
        removed => changed_once(removed?),
    }
}

/// The rule for that work on parts of that kind, with the club held so that nobody adds one.
pub fn of_work_to_change(
    tx: &mut Tx<'_>,
    club: ClubId,
    kind: PartKind,
    task: RuleTask,
) -> Result<Option<RuleId>, StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    let same = rules::part_kind.eq(kind.as_str()).and(rules::task.eq(task.as_str()));
    let key: Option<Key> = rules::table
        .filter(rules::club_id.eq(Key(club.0)).and(same))
        .select(rules::id)
        .order(rules::id)
        .first(tx.conn())
        .optional()?;
    Ok(key.map(|key| RuleId(key.0)))
}

/// One rule.
pub fn get(read: &mut Read<'_>, club: ClubId, rule: RuleId) -> Result<Rule, StoreError> {
    rules::table
        .find((Key(club.0), Key(rule.0)))
        .select(RuleRow::as_select())
        .get_result(read.conn())
        .optional()?
        .ok_or(StoreError::NotFound { what: "rule" })?
        .try_into()
}

/// A club's rule book, in the order it was written.
pub fn of_club(read: &mut Read<'_>, club: ClubId) -> Result<Vec<Rule>, StoreError> {
    rules::table
        .filter(rules::club_id.eq(Key(club.0)))
        .select(RuleRow::as_select())
        .order(rules::id)
        .load(read.conn())?
        .into_iter()
        .map(Rule::try_from)
        .collect()
}
