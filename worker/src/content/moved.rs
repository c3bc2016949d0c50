//! What a notice says that puts an event's days right: as long as its recipient believes in others.

use domain::{
    events::Event,
    mail::{MovedNotice, Told, misleads},
    reminders::{Reminder, moved_cycle},
};
use store::StoreError;

use super::{Checked, Content, Scene, event::about_event};

pub(super) fn content(
    scene: &mut Scene<'_, '_, '_>,
    reminders: Vec<Reminder>,
) -> Result<Checked, StoreError> {
    let Some(event) = reminders.iter().find_map(about_event) else {
        return Ok(Checked::untrue(reminders));
    };
    let (club, recipient) = (scene.club.id, scene.recipient.id);
    let event = store::events::get(scene.read, club, event)?;
    let today = scene.club.zone.date_of(scene.now);
    let told = store::told::latest(scene.read, club, event.id, recipient)?;
    let told = told.filter(|told| misleads(told, &event, today));
    let Some((told, last)) = told.and_then(|told| Some((told.clone(), told.ends_on?))) else {
        return Ok(Checked::untrue(reminders));
    };
    let cycle = moved_cycle(&event);
    let (now_told, untrue): (Vec<Reminder>, Vec<Reminder>) =
        reminders.into_iter().partition(|reminder| reminder.cycle == cycle);
    if now_told.is_empty() {
        return Ok(Checked::untrue(untrue));
    }
    let said = now_told.iter().map(|reminder| (reminder.id, says(scene, &event))).collect();
    let notice = MovedNotice {
        club: scene.club.name.clone(),
        recipient: scene.recipient.name.clone(),
        event_id: event.id,
        event: event.name,
        told_on: told.on,
        told: (told.starts_on, last),
        told_works: told.bows.into_iter().flat_map(|bow| bow.works).collect(),
        days: (event.dates.starts_on(), event.dates.ends_on()),
        called_off: event.cancelled_at.is_some(),
        version: event.version,
        changed_at: event.changed_at,
    };
    Ok(Checked { content: Some(Content::Moved(notice)), told: now_told, untrue, said })
}

/// What somebody knows who has read it.
fn says(scene: &Scene<'_, '_, '_>, event: &Event) -> Told {
    Told {
        on: scene.posted.mail.for_date,
        starts_on: event.dates.starts_on(),
        ends_on: event.cancelled_at.is_none().then_some(event.dates.ends_on()),
        bows: Vec::new(),
    }
}
