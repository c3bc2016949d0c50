//! What a notice says of a bow that must not be shot: the bow itself, and each of its parts, that still is
//! stopped.

use domain::{
    bows::Bow,
    ids::{BowId, PartId},
    mail::{StopNotice, StoppedPart},
    reminders::{About, Reminder},
    text::Name,
};
use store::StoreError;

use super::{Checked, Content, Scene};
use crate::recipients::Recipients;

/// What still must not be shot.
enum Stopped {
    Bow(String),
    Part(StoppedPart),
}

pub(super) fn content(
    scene: &mut Scene<'_, '_, '_>,
    reminders: Vec<Reminder>,
) -> Result<Checked, StoreError> {
    let recipients = Recipients::of(scene.read, scene.club.id)?;
    let (mut bow, mut stopped, mut parts) = (None, None, Vec::new());
    let (mut told, mut untrue) = (Vec::new(), Vec::new());
    for reminder in reminders {
        let found = match reminder.about {
            About::Stop { part, bow } => of_part(scene, &recipients, (part, bow), &reminder)?,
            About::BowStop { bow } => of_bow(scene, &recipients, bow, &reminder)?,
            About::Work { .. } | About::Event { .. } | About::Bench | About::Silence { .. } => None,
        };
        match found {
            Some(Stopped::Bow(reason)) => stopped = Some(reason),
            Some(Stopped::Part(part)) => parts.push(part),
            None => {
                untrue.push(reminder);
                continue;
            }
        }
        bow = bow.or(reminder.about.bow());
        told.push(reminder);
    }
    let Some(bow) = bow else {
        return Ok(Checked { told, untrue, ..Checked::default() });
    };
    let bow = store::bows::get(scene.read, scene.club.id, bow)?;
    let unreached = unreached(scene, &bow)?;
    let notice = StopNotice {
        club: scene.club.name.clone(),
        recipient: scene.recipient.name.clone(),
        archer: scene.name(bow.archer)?,
        bow,
        stopped,
        parts,
        unreached,
    };
    let content = Some(Content::Stop(notice));
    Ok(Checked { content, told, untrue, ..Checked::default() })
}

/// Who looks after a bow, is in the club, and has no mailbox that takes mail.
fn unreached(scene: &mut Scene<'_, '_, '_>, bow: &Bow) -> Result<Vec<Name>, StoreError> {
    let today = scene.club.zone.date_of(scene.now);
    let mut unreached = Vec::new();
    for carer in bow.carers() {
        let carer = store::members::get(scene.read, scene.club.id, carer)?;
        if carer.left_at.is_none() && !carer.is_reached(today) {
            unreached.push(carer.name);
        }
    }
    Ok(unreached)
}

/// A part, if it is under that bow and stopped for the same cause still.
fn of_part(
    scene: &mut Scene<'_, '_, '_>,
    recipients: &Recipients,
    (part, under): (PartId, BowId),
    reminder: &Reminder,
) -> Result<Option<Stopped>, StoreError> {
    let judged = store::due::of_parts(scene.read, scene.club, &[part], scene.now)?.pop();
    let judged = judged.filter(|one| {
        let here = one.bow.as_ref().filter(|bow| bow.id == under);
        here.is_some_and(|bow| concerns(scene, recipients, bow))
    });
    let judged = judged.filter(|one| reminder.still_stopped(one.record.stop));
    Ok(judged.map(|judged| {
        Stopped::Part(StoppedPart {
            kind: judged.record.part.kind,
            name: judged.record.part.name,
            reason: judged.assessment.reason,
        })
    }))
}

/// A bow, if it is stopped for the same cause still.
fn of_bow(
    scene: &mut Scene<'_, '_, '_>,
    recipients: &Recipients,
    bow: BowId,
    reminder: &Reminder,
) -> Result<Option<Stopped>, StoreError> {
    let stop = store::bow_stops::of_bow(scene.read, scene.club.id, bow)?;
    let stop = stop.filter(|stop| reminder.still_stopped(Some(stop.stop)));
    let bow = store::bows::get(scene.read, scene.club.id, bow)?;
    let stop = stop.filter(|_| concerns(scene, recipients, &bow));
    Ok(stop.map(|stop| Stopped::Bow(stop.reason(&scene.club.zone))))
}

/// Whether the recipient is still somebody who is told of the bow.
fn concerns(scene: &Scene<'_, '_, '_>, recipients: &Recipients, bow: &Bow) -> bool {
    recipients.of_stop(bow).contains(&scene.recipient.id)
}
