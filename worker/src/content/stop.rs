//! What a notice says of a bow that must not be shot: each of its parts that still is stopped.

use domain::{
    mail::{StopNotice, StoppedPart},
    reminders::Reminder,
};
use store::{StoreError, due::Judged};

use super::{Content, Scene};
use crate::recipients::Recipients;

type Told = (Option<Content>, Vec<Reminder>, Vec<Reminder>);

pub(super) fn content(
    scene: &mut Scene<'_, '_, '_>,
    reminders: Vec<Reminder>,
) -> Result<Told, StoreError> {
    let recipients = Recipients::of(scene.read, scene.club.id)?;
    let (mut bow, mut parts) = (None, Vec::new());
    let (mut told, mut untrue) = (Vec::new(), Vec::new());
    for reminder in reminders {
        let Some(part) = reminder.about.part() else { continue };
        let judged = store::due::of_parts(scene.read, scene.club, &[part], scene.now)?.pop();
        let concerned = |one: &Judged| {
            let here = one.bow.as_ref().filter(|bow| Some(bow.id) == reminder.about.bow());
            here.is_some_and(|bow| recipients.of_stop(bow).contains(&scene.recipient.id))
        };
        let judged = judged.filter(concerned);
        match judged.filter(|one| reminder.still_stopped(&one.record)) {
            Some(judged) => {
                bow = bow.or(reminder.about.bow());
                parts.push(StoppedPart {
                    kind: judged.record.part.kind,
                    name: judged.record.part.name,
                    reason: judged.assessment.reason,
                });
                told.push(reminder);
            }
            None => untrue.push(reminder),
        }
    }
    let Some(bow) = bow else { return Ok((None, told, untrue)) };
    let bow = store::bows::get(scene.read, scene.club.id, bow)?;
    let notice = StopNotice {
        club: scene.club.name.clone(),
        recipient: scene.recipient.name.clone(),
        archer: scene.name(bow.archer)?,
        bow,
        parts,
    };
    Ok((Some(Content::Stop(notice)), told, untrue))
}
