//! What a digest says: each piece of work that still wants to be done, by somebody who is still
//! concerned.

use std::collections::BTreeSet;

use domain::{
    bows::Bow,
    calendar::{Work, due_window},
    forecast::{Pace, band},
    ids::MemberId,
    mail::{Act, Digest, DigestLine, done_by_link},
    reminders::{About, Reminder},
    rules::{Condition, RuleTask, Verdict},
};
use jiff::civil::Date;
use store::StoreError;

use super::{Checked, Content, Scene};
use crate::recipients::Recipients;

pub(super) fn content(
    scene: &mut Scene<'_, '_, '_>,
    reminders: Vec<Reminder>,
) -> Result<Checked, StoreError> {
    let recipients = Recipients::of(scene.read, scene.club.id)?;
    let (mut lines, mut said) = (Vec::new(), BTreeSet::new());
    let (mut told, mut untrue) = (Vec::new(), Vec::new());
    for reminder in reminders {
        let Some(line) = line(scene, &recipients, &reminder)? else {
            untrue.push(reminder);
            continue;
        };
        // Two stages of one piece of work in one mail are one line, as it stands now.
        let work = match reminder.about {
            About::Work { rule, part, .. } => Some((part, rule)),
            _ => None,
        };
        if said.insert(work) {
            lines.push(line);
        }
        told.push(reminder);
    }
    // A bow that must not be shot comes before anything that is only due.
    let urgency = |line: &DigestLine| (line.stopped.is_none(), line.condition);
    lines.sort_by(|a, b| (urgency(a), &a.bow.name).cmp(&(urgency(b), &b.bow.name)));
    let digest = Digest {
        club: scene.club.name.clone(),
        recipient: scene.recipient.name.clone(),
        on: scene.today(),
        lines,
    };
    let content = Some(digest).filter(|digest| !digest.lines.is_empty()).map(Content::Digest);
    Ok(Checked { content, told, untrue, ..Checked::default() })
}

/// What a reminder comes to now: nothing, if its work was done, its part taken off, or its bow
/// passed to somebody else.
fn line(
    scene: &mut Scene<'_, '_, '_>,
    recipients: &Recipients,
    reminder: &Reminder,
) -> Result<Option<DigestLine>, StoreError> {
    let Some(part) = reminder.about.part() else { return Ok(None) };
    let judged = store::due::of_parts(scene.read, scene.club, &[part], scene.now)?.pop();
    let Some((judged, bow)) = judged.and_then(|one| one.bow.clone().map(|bow| (one, bow))) else {
        return Ok(None);
    };
    let verdict = reminder.still_true(&judged.record, &judged.assessment);
    let concerned = |condition| recipients.of_work(&bow, condition).contains(&scene.recipient.id);
    let Some(verdict) = verdict.filter(|verdict| concerned(verdict.condition)) else {
        return Ok(None);
    };
    let stopped = store::bow_stops::reason(scene.read, scene.club, bow.id, scene.now)?;
    let acts = acts(verdict.task, &bow, stopped.is_some(), scene.recipient.id);
    Ok(Some(DigestLine {
        reminder: reminder.id,
        acts,
        archer: scene.name(bow.archer)?,
        stopped,
        part_kind: judged.record.part.kind,
        part: judged.record.part.name.clone(),
        task: verdict.task,
        condition: verdict.condition,
        reason: verdict.reason.clone(),
        work: Work { part, rule: verdict.rule_id, cycle: reminder.cycle.clone() },
        window: window(scene, &bow, verdict)?,
        bow: (*bow).clone(),
    }))
}

/// From when until when work is expected to come due, if it is not due yet.
fn window(
    scene: &mut Scene<'_, '_, '_>,
    bow: &Bow,
    verdict: &Verdict,
) -> Result<Option<(Date, Date)>, StoreError> {
    if verdict.condition != Condition::Nearing {
        return Ok(None);
    }
    let today = scene.club.zone.date_of(scene.now);
    let histories = store::pace::recent(scene.read, scene.club.id, &[bow.id], today)?;
    let history = histories.get(&bow.id).map(Vec::as_slice).unwrap_or_default();
    // A bow that was hardly logged has no pace; then only the calendar can tell.
    let pace = Pace::of(history, today).ok();
    Ok(due_window(&band(verdict.left, pace.as_ref(), today)))
}

/// What somebody may answer by a link: that it is done, where a line of upkeep says so and no coach has to
/// look first; that it is not theirs, if it is on record as theirs.
fn acts(task: RuleTask, bow: &Bow, stopped: bool, recipient: MemberId) -> Vec<Act> {
    let done = done_by_link(task) && !stopped;
    let theirs = bow.carers().contains(&recipient);
    let offered = [(Act::Done, done), (Act::Snooze, true), (Act::NotMine, theirs)];
    offered.into_iter().filter(|(_, fits)| *fits).map(|(act, _)| act).collect()
}
