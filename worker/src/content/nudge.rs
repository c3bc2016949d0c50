//! What a question about a silent bow says: as long as it is silent, and its recipient shoots it.

use domain::{
    mail::SilenceNotice,
    reminders::{About, Reminder},
};
use jiff::Unit;
use store::StoreError;

use super::{Checked, Content, Scene};
use crate::silence;

pub(super) fn content(
    scene: &mut Scene<'_, '_, '_>,
    reminders: Vec<Reminder>,
) -> Result<Checked, StoreError> {
    let today = scene.club.zone.date_of(scene.now);
    let silent = silence::of_club(scene.read, scene.club, scene.now)?;
    let silent = silent.into_iter().find(|silent| {
        silent.archer == scene.recipient.id
            && reminders.iter().any(|reminder| {
                reminder.about == About::Silence { bow: silent.bow.id }
                    && reminder.cycle == silent.last_on.to_string()
            })
    });
    let Some(silent) = silent else { return Ok(Checked::untrue(reminders)) };
    let days = today.since((Unit::Day, silent.last_on)).map_or(0, |span| span.get_days());
    let notice = SilenceNotice {
        club: scene.club.name.clone(),
        recipient: scene.recipient.name.clone(),
        bow: silent.bow.name.clone(),
        bow_id: silent.bow.id,
        last_on: silent.last_on,
        days: days.into(),
    };
    let content = Some(Content::Nudge(notice));
    Ok(Checked { content, told: reminders, ..Checked::default() })
}
