//! From a file to a club's rule book and back. A file is taken whole or not at all; rules that it does not
//! name stay as they are.

use std::collections::BTreeSet;

use domain::{
    audit::{Change, Subject},
    clubs::Club,
    ids::{MemberId, RuleId},
    incidents::IncidentKind,
    parts::PartKind,
    rules::{
        AskedDays, AskedFinding, AskedLimits, AskedShots, Combine, Limits, Provenance, Rule,
        RuleTask, Scope,
    },
    text::Name,
    time::parse_date,
    upkeep::Finding,
};
use jiff::Timestamp;
use store::{Read, StoreError, Tx, fresh_id};
use toml::Spanned;

use super::{
    file::{DaysTable, FileError, FindingTable, HEADING, RuleFile, RuleTable, ShotsTable, line},
    names::Names,
};

/// What became of a rule of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Outcome {
    /// The club had none for that work and scope.
    Added(String),
    /// It said something else.
    Changed(String),
    /// It said the same.
    Same(String),
}

/// Why a file was not taken.
#[derive(Debug, thiserror::Error)]
pub(super) enum ImportError {
    #[error(transparent)]
    File(#[from] FileError),
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error("cannot be written as TOML: {0}")]
    Write(#[from] toml::ser::Error),
    #[error("cannot be put on record: {0}")]
    Record(#[from] serde_json::Error),
}

/// A club's rule book as it stands, as a file.
///
/// A setting that comes into force later says so; one that is in force says no day.
pub(super) fn export(
    read: &mut Read<'_>,
    club: &Club,
    now: Timestamp,
) -> Result<String, ImportError> {
    let today = club.zone.date_of(now);
    let names = Names::of(read, club.id)?;
    let mut rules = store::rules::book(read, club.id)?.last();
    rules.sort_by(|a, b| key(a).cmp(&key(b)));
    let rule = |rule: &Rule| {
        let mut table = written(rule, &names);
        let later = rule.effective_on.filter(|from| *from > today);
        table.effective_on = later.map(|from| from.to_string());
        Spanned::new(0..0, table)
    };
    let file = RuleFile { rule: rules.iter().map(rule).collect() };
    Ok(format!("{HEADING}\n{}", toml::to_string(&file)?))
}

fn key(rule: &Rule) -> (PartKind, RuleTask, &Scope) {
    (rule.part_kind, rule.task, &rule.scope)
}

fn written(rule: &Rule, names: &Names) -> RuleTable {
    let asked = AskedLimits::from(&rule.limits);
    let (source, override_reason) = rule.provenance.source_and_reason();
    let all = asked.combine == Combine::All;
    RuleTable {
        part_kind: rule.part_kind.to_string(),
        task: rule.task.to_string(),
        scope: names.written(&rule.scope),
        combine: all.then(|| asked.combine.to_string()),
        shots: asked.shots.map(|AskedShots { plan, notice, grace, retire }| ShotsTable {
            plan,
            notice,
            grace,
            retire,
        }),
        days: asked.days.map(|AskedDays { plan, notice, grace, retire_months }| DaysTable {
            plan,
            notice,
            grace,
            retire_months,
        }),
        finding: asked.finding.map(|AskedFinding { any_of, from_grade }| FindingTable {
            any_of: any_of.iter().map(ToString::to_string).collect(),
            from_grade,
        }),
        incidents: asked.incidents.iter().map(ToString::to_string).collect(),
        event_notice_days: asked.event_notice_days,
        checks_at_shots: asked.checks_at,
        effective_on: rule.effective_on.map(|from| from.to_string()),
        override_reason: override_reason.map(ToOwned::to_owned),
        source: source.to_owned(),
    }
}

/// Takes a file into a club's book, signed by one of its members; what became of each of its rules.
pub(super) fn import(
    tx: &mut Tx<'_>,
    club: &Club,
    text: &str,
    signed: (MemberId, Timestamp),
) -> Result<Vec<Outcome>, ImportError> {
    let file = RuleFile::read(text)?;
    let names = Names::of(tx, club.id)?;
    let (mut rules, mut wrong) = (Vec::new(), Vec::new());
    let mut works = BTreeSet::new();
    for (i, rule) in file.rule.iter().enumerate() {
        let at = format!("rule {} (line {})", i + 1, line(text, &rule.span()));
        match parsed(rule.get_ref(), (&names, club), signed) {
            Ok(rule) if !works.insert((rule.part_kind, rule.task, rule.scope.clone())) => {
                wrong.push(format!("{at}: is for the same work and scope as one above it"));
            }
            Ok(rule) => rules.push(rule),
            Err(faults) => wrong.extend(faults.into_iter().map(|fault| format!("{at}: {fault}"))),
        }
    }
    if !wrong.is_empty() {
        return Err(FileError::Rules(wrong).into());
    }
    rules.into_iter().map(|rule| take(tx, club, rule, &names)).collect()
}

fn take(tx: &mut Tx<'_>, club: &Club, rule: Rule, names: &Names) -> Result<Outcome, ImportError> {
    let called = names.called(&rule);
    let work = (rule.part_kind, rule.task, &rule.scope);
    let Some(there) = store::rules::of_work_to_change(tx, club.id, work)? else {
        store::rules::add(tx, club.id, &rule)?;
        record(tx, club, (None, &rule), names)?;
        return Ok(Outcome::Added(called));
    };
    let there = store::rules::get(tx, club.id, there)?;
    let same_source = there.provenance.source == rule.provenance.source;
    let same_day = there.effective_on == rule.effective_on || rule.effective_on.is_none();
    if there.limits == rule.limits && same_source && same_day {
        return Ok(Outcome::Same(called));
    }
    let changed = Rule { id: there.id, version: there.version, ..rule };
    let changed = store::rules::change(tx, club.id, &changed)?;
    record(tx, club, (Some(&there), &changed), names)?;
    Ok(Outcome::Changed(called))
}

/// Puts on record what an operator set, who has no name here.
fn record(
    tx: &mut Tx<'_>,
    club: &Club,
    (before, after): (Option<&Rule>, &Rule),
    names: &Names,
) -> Result<(), ImportError> {
    let body = |rule: &Rule| serde_json::to_string(&written(rule, names));
    let at = after.provenance.set_at;
    let change = Change {
        id: fresh_id(at),
        at,
        by: None,
        operation: "import_rules".to_owned(),
        subject: Subject::Rule,
        subject_id: after.id.0,
        bow: None,
        before: before.map(body).transpose()?,
        after: Some(body(after)?),
    };
    Ok(store::audit::record(tx, club.id, &change)?)
}

/// A rule of a file, or everything that is wrong with it.
fn parsed(
    table: &RuleTable,
    (names, club): (&Names, &Club),
    (by, now): (MemberId, Timestamp),
) -> Result<Rule, Vec<String>> {
    let mut faults = Vec::new();
    let day = table.effective_on.as_deref().map(parse_date).transpose();
    let day = day.map_err(|why| faults.push(format!("effective_on: {why}")));
    // A day that is over means at once.
    let effective_on = day.ok().flatten().filter(|from| *from > club.zone.date_of(now));
    let kind = word(&mut faults, "part_kind", &table.part_kind, PartKind::parse);
    let task = word(&mut faults, "task", &table.task, RuleTask::parse);
    let asked = asked(table, &mut faults);
    let source = Name::parse(&table.source).map_err(|why| faults.push(format!("source: {why}")));
    let (Some(kind), Some(task)) = (kind, task) else { return Err(faults) };
    let scope = names.scope(table.scope.as_ref(), kind).map_err(|fault| faults.push(fault));
    let limits = Limits::new(kind, task, &asked).map_err(|misfits| {
        let fault = |(place, fault): (domain::rules::Place, domain::rules::Fault)| {
            format!("{}: {fault}", place.path("."))
        };
        faults.extend(misfits.into_iter().map(fault));
    });
    let (Ok(scope), Ok(limits), Ok(source), true) = (scope, limits, source, faults.is_empty())
    else {
        return Err(faults);
    };
    let source = Provenance::source(source.as_str(), table.override_reason.as_deref());
    Ok(Rule {
        id: fresh_id::<RuleId>(now),
        part_kind: kind,
        task,
        scope,
        limits,
        effective_on,
        version: 1,
        provenance: Provenance { set_at: now, set_by: Some(by), source },
    })
}

fn asked(table: &RuleTable, faults: &mut Vec<String>) -> AskedLimits {
    let combine = table.combine.as_deref().unwrap_or(Combine::First.as_str());
    let incidents: BTreeSet<IncidentKind> = table
        .incidents
        .iter()
        .filter_map(|one| word(faults, "incidents", one, IncidentKind::parse))
        .collect();
    let finding = table.finding.as_ref().map(|finding| AskedFinding {
        any_of: finding
            .any_of
            .iter()
            .filter_map(|one| word(faults, "finding.any_of", one, Finding::parse))
            .collect(),
        from_grade: finding.from_grade,
    });
    AskedLimits {
        combine: word(faults, "combine", combine, Combine::parse).unwrap_or_default(),
        shots: table.shots.as_ref().map(|shots| AskedShots {
            plan: shots.plan,
            notice: shots.notice,
            grace: shots.grace,
            retire: shots.retire,
        }),
        days: table.days.as_ref().map(|days| AskedDays {
            plan: days.plan,
            notice: days.notice,
            grace: days.grace,
            retire_months: days.retire_months,
        }),
        finding,
        incidents,
        event_notice_days: table.event_notice_days,
        checks_at: table.checks_at_shots.clone(),
        overridden: table.override_reason.is_some(),
    }
}

fn word<T>(
    faults: &mut Vec<String>,
    place: &str,
    word: &str,
    parse: impl Fn(&str) -> Option<T>,
) -> Option<T> {
    let found = parse(word);
    if found.is_none() {
        faults.push(format!("{place}: {word} is not known here"));
    }
    found
}
