//! What a digest says: each piece of work that still wants to be done, by somebody who is still
//! concerned.

use std::collections::BTreeSet;

use domain::{
    mail::{Digest, DigestLine},
    reminders::{About, Reminder},
};
use store::StoreError;

use super::{Content, Scene};
use crate::recipients::Recipients;

type Told = (Option<Content>, Vec<Reminder>, Vec<Reminder>);

pub(super) fn content(
    scene: &mut Scene<'_, '_, '_>,
    reminders: Vec<Reminder>,
) -> Result<Told, StoreError> {
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
    lines.sort_by(|a, b| (a.condition, &a.bow.name).cmp(&(b.condition, &b.bow.name)));
    let digest = Digest {
        club: scene.club.name.clone(),
        recipient: scene.recipient.name.clone(),
        on: scene.posted.mail.for_date,
        lines,
    };
    let content = Some(digest).filter(|digest| !digest.lines.is_empty()).map(Content::Digest);
    Ok((content, told, untrue))
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
    Ok(Some(DigestLine {
        archer: scene.name(bow.archer)?,
        part_kind: judged.record.part.kind,
        part: judged.record.part.name.clone(),
        task: verdict.task,
        condition: verdict.condition,
        reason: verdict.reason.clone(),
        bow: (*bow).clone(),
    }))
}
