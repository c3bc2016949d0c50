//! The bows that go to an event, and what each needs before it.

use std::collections::BTreeMap;

use domain::{
    bows::Bow,
    clubs::Club,
    events::{Entry, Event},
    forecast::Pace,
    ids::{BowId, MemberId},
    mail::{ChangeWindow, EventWork, GoingBow},
    parts::PartKind,
    planning::before_event::{Need, Needs, PartVerdict, Shooting, before_event},
    rules::{PartRecord, Rule, RuleTask, Scope, Stop, applying, last_reason},
};
use jiff::Timestamp;
use store::{Read, StoreError, due::Judged};

/// A bow that goes to an event.
pub(crate) struct Going {
    /// With whom.
    pub(crate) entry: Entry,
    /// The bow.
    pub(crate) bow: Bow,
    /// Who keeps it, unless they said that it is not theirs to look after.
    keeper: Option<MemberId>,
    /// What it needs before the event, as a mail says it.
    pub(crate) row: GoingBow,
}

/// Who is told what a bow needs: who goes with it, whatever they said of it, and who keeps it.
pub(crate) fn in_care_of(going: &Going) -> impl Iterator<Item = MemberId> {
    [Some(going.entry.member), going.keeper].into_iter().flatten()
}

/// Every bow that goes to an event, in the order of its archers' names.
pub(crate) fn going(
    read: &mut Read<'_>,
    club: &Club,
    event: &Event,
    entries: &[Entry],
    now: Timestamp,
) -> Result<Vec<Going>, StoreError> {
    let today = club.zone.date_of(now);
    let bows: Vec<BowId> = entries.iter().map(|entry| entry.bow).collect();
    let histories = store::pace::recent(read, club.id, &bows, today)?;
    let rules = store::rules::in_force(read, club.id, now, &club.zone)?;
    let judged = store::due::of_club(read, club, now)?;
    let (verdicts, stops) = (verdicts(&judged), stops(&judged));
    let disowned = store::disowned_bows::of_club(read, club.id)?;
    let stopped_bows = store::bow_stops::of_club(read, club.id)?;
    let mut going = Vec::with_capacity(entries.len());
    for &entry in entries {
        let bow = store::bows::get(read, club.id, entry.bow)?;
        let archer = store::members::get(read, club.id, entry.member)?;
        // A bow that was hardly logged has no pace; what it needs is told without dates by shots.
        let history = histories.get(&entry.bow).map(Vec::as_slice).unwrap_or_default();
        let pace = Pace::of(history, today).ok();
        let string = string_of(&judged, entry.bow);
        let shooting = Shooting {
            pace: pace.as_ref(),
            settle_in_shots: planned(&rules, string, RuleTask::SettleIn),
            sight_in_shots: planned(&rules, string, RuleTask::SightIn),
        };
        let of_bow = verdicts.get(&entry.bow).map(Vec::as_slice).unwrap_or_default();
        let needs = before_event(event, of_bow, shooting, today);
        let change = change_window(event, &needs);
        let row = GoingBow {
            bow_id: bow.id,
            bow: bow.name.clone(),
            archer: archer.name,
            stopped: last_reason(
                stopped_bows.get(&entry.bow).copied(),
                stops.get(&entry.bow).map(Vec::as_slice).unwrap_or_default(),
                &club.zone,
            ),
            works: works(needs),
            change,
            since: None,
        };
        let keeper = bow.keeper.filter(|keeper| !disowned.contains(&(bow.id, *keeper)));
        going.push(Going { entry, bow, keeper, row });
    }
    going.sort_by(|a, b| (&a.row.archer, &a.row.bow).cmp(&(&b.row.archer, &b.row.bow)));
    Ok(going)
}

/// What the rules say of the parts under each bow.
fn verdicts(judged: &[Judged]) -> BTreeMap<BowId, Vec<PartVerdict>> {
    let mut found = BTreeMap::<BowId, Vec<PartVerdict>>::new();
    for one in judged {
        let Some(bow) = &one.bow else { continue };
        let part = &one.record.part;
        let of_bow = found.entry(bow.id).or_default();
        of_bow.extend(one.assessment.verdicts.iter().map(|verdict| PartVerdict {
            part: part.id,
            kind: part.kind,
            name: part.name.clone(),
            task: verdict.task,
            condition: verdict.condition,
            left: verdict.left,
            reason: verdict.reason.clone(),
        }));
    }
    found
}

/// For what anything under each bow must not be shot.
fn stops(judged: &[Judged]) -> BTreeMap<BowId, Vec<Stop>> {
    let mut found = BTreeMap::<BowId, Vec<Stop>>::new();
    for one in judged {
        let (Some(bow), Some(stop)) = (&one.bow, one.record.stop) else { continue };
        found.entry(bow.id).or_default().push(stop);
    }
    found
}

/// The string on a bow.
fn string_of(judged: &[Judged], bow: BowId) -> Option<&PartRecord> {
    let on_it = |one: &&Judged| one.bow.as_ref().is_some_and(|under| under.id == bow);
    let records = judged.iter().filter(on_it).map(|one| &one.record);
    records.into_iter().find(|record| record.part.kind == PartKind::Bowstring)
}

/// How many shots the rules that speak for a string plan for a task, the most of several; for a bow
/// without a string those for the whole club. None if there is no such rule.
fn planned(rules: &[Rule], string: Option<&PartRecord>, task: RuleTask) -> u32 {
    let of_club =
        |rule: &&Rule| (rule.part_kind, &rule.scope) == (PartKind::Bowstring, &Scope::Club);
    let speaking: Vec<&Rule> = string
        .map_or_else(|| rules.iter().filter(of_club).collect(), |string| applying(rules, string));
    let of_task = speaking.into_iter().filter(|rule| rule.task == task);
    of_task.filter_map(|rule| Some(rule.limits.shots?.plan)).max().unwrap_or(0)
}

fn works(needs: Needs) -> Vec<EventWork> {
    let work = |need: Need| EventWork {
        by: (!need.too_late).then_some(need.by),
        part_id: need.part,
        part_kind: need.kind,
        part: need.name,
        task: need.task,
        condition: need.condition,
        reason: need.why,
    };
    let (late, in_time): (Vec<Need>, Vec<Need>) =
        needs.works.into_iter().partition(|need| need.too_late);
    in_time.into_iter().chain(late).map(work).collect()
}

const fn change_window(event: &Event, needs: &Needs) -> ChangeWindow {
    match needs.last_change_on {
        _ if !event.priority.wants_settled_bows() => ChangeWindow::Open,
        Some(day) => ChangeWindow::Until(day),
        None if needs.too_late_to_change => ChangeWindow::Closed,
        None => ChangeWindow::Unknown,
    }
}
