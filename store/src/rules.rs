//! A club's rule book: rules, and the settings that each of them had. Settings are only ever added.

mod row;

use diesel::prelude::*;
use domain::{
    ids::{ClubId, MemberId, RuleId, SquadId},
    parts::PartKind,
    rules::{Rule, RuleBook, RuleTask, Scope, Setting},
    time::Zone,
};
use jiff::Timestamp;

use crate::{
    Read, StoreError, Tx,
    dialect::{self, Hold},
    error::changed_once,
    schema::{rule_settings, rules},
    sql_types::Key,
};
use row::{RuleRow, SettingRow};

/// Adds a rule to a club's book.
pub fn add(tx: &mut Tx<'_>, club: ClubId, rule: &Rule) -> Result<(), StoreError> {
    diesel::insert_into(rules::table).values(RuleRow::of(club, rule)).execute(tx.conn())?;
    set(tx, club, rule, false)
}

/// Sets a rule anew. `rule.version` is the one that it was read with; the setting that is kept comes
/// after it. A conflict, if somebody else set it meanwhile.
pub fn change(tx: &mut Tx<'_>, club: ClubId, rule: &Rule) -> Result<Rule, StoreError> {
    next(tx, club, rule, false)
}

/// Takes a rule out of the book, in the version that it was read with. What it said stays on record. A
/// conflict, if somebody else changed it meanwhile.
pub fn withdraw(tx: &mut Tx<'_>, club: ClubId, rule: &Rule) -> Result<(), StoreError> {
    next(tx, club, rule, true).map(drop)
}

fn next(tx: &mut Tx<'_>, club: ClubId, rule: &Rule, withdrawn: bool) -> Result<Rule, StoreError> {
    let changed = Rule { version: rule.version + 1, ..rule.clone() };
    let row = rules::table.find((Key(club.0), Key(rule.id.0)));
    let kept = diesel::update(row.filter(rules::version.eq(rule.version)))
        .set(rules::version.eq(changed.version))
        .execute(tx.conn())?;
    changed_once(kept)?;
    set(tx, club, &changed, withdrawn)?;
    Ok(changed)
}

fn set(tx: &mut Tx<'_>, club: ClubId, rule: &Rule, withdrawn: bool) -> Result<(), StoreError> {
    let row = SettingRow::of(club, rule, withdrawn);
    diesel::insert_into(rule_settings::table).values(row).execute(tx.conn())?;
    Ok(())
}

/// Takes every rule for one squad out of the book, by somebody, because the squad is gone.
pub(crate) fn withdraw_for_squad(
    tx: &mut Tx<'_>,
    club: ClubId,
    squad: SquadId,
    (by, at): (MemberId, Timestamp),
) -> Result<(), StoreError> {
    for mut rule in book(tx, club)?.last() {
        if rule.scope == Scope::Squad(squad) {
            (rule.provenance.set_by, rule.provenance.set_at) = (Some(by), at);
            rule.effective_on = None;
            withdraw(tx, club, &rule)?;
        }
    }
    Ok(())
}

/// The rule in the book for that work on parts of that kind in that scope, with the club held so that
/// nobody adds one.
pub fn of_work_to_change(
    tx: &mut Tx<'_>,
    club: ClubId,
    work: (PartKind, RuleTask, &Scope),
) -> Result<Option<RuleId>, StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    of_work(tx, club, work)
}

/// The rule in the book for that work on parts of that kind in that scope.
pub fn of_work(
    read: &mut Read<'_>,
    club: ClubId,
    (kind, task, scope): (PartKind, RuleTask, &Scope),
) -> Result<Option<RuleId>, StoreError> {
    let same = |rule: &Rule| (rule.part_kind, rule.task, &rule.scope) == (kind, task, scope);
    Ok(book(read, club)?.last().into_iter().find(same).map(|rule| rule.id))
}

/// The last setting of one rule that is in the book.
pub fn get(read: &mut Read<'_>, club: ClubId, rule: RuleId) -> Result<Rule, StoreError> {
    let settings = load(read, club, Some(rule))?;
    let last = settings.into_iter().next_back().filter(|last| !last.withdrawn);
    last.map(|last| last.rule).ok_or(StoreError::NotFound { what: "rule" })
}

/// Every setting that one rule had, the first one first, whether it still is in the book or not.
pub fn history(
    read: &mut Read<'_>,
    club: ClubId,
    rule: RuleId,
) -> Result<Vec<Setting>, StoreError> {
    let settings = load(read, club, Some(rule))?;
    if settings.is_empty() {
        return Err(StoreError::NotFound { what: "rule" });
    }
    Ok(settings)
}

/// A club's whole rule book.
pub fn book(read: &mut Read<'_>, club: ClubId) -> Result<RuleBook, StoreError> {
    load(read, club, None).map(RuleBook::new)
}

/// The rules of a club that are in force at a moment, in the order in which they were added.
pub fn in_force(
    read: &mut Read<'_>,
    club: ClubId,
    at: Timestamp,
    zone: &Zone,
) -> Result<Vec<Rule>, StoreError> {
    Ok(book(read, club)?.in_force(at, zone))
}

fn load(
    read: &mut Read<'_>,
    club: ClubId,
    rule: Option<RuleId>,
) -> Result<Vec<Setting>, StoreError> {
    let of_rule =
        rule_settings::club_id.eq(rules::club_id).and(rule_settings::rule_id.eq(rules::id));
    let query = rules::table
        .inner_join(rule_settings::table.on(of_rule))
        .filter(rules::club_id.eq(Key(club.0)))
        .select((RuleRow::as_select(), SettingRow::as_select()))
        .order((rules::id, rule_settings::version));
    let rows: Vec<(RuleRow, SettingRow)> = match rule {
        Some(rule) => query.filter(rules::id.eq(Key(rule.0))).load(read.conn())?, // unordered: the order is set above
        None => query.load(read.conn())?, // unordered: the order is set above
    };
    rows.into_iter().map(|(rule, setting)| setting.with(&rule)).collect()
}
