//! What a mail before an event says: what each bow that still goes needs by now.

use domain::{
    events::Event,
    ids::EventId,
    mail::{EventNotice, GoingBow, MailKind},
    reminders::{About, Reminder, event_cycle},
};
use store::StoreError;

use super::{Content, Scene};
use crate::{
    going::{Going, going, in_care_of},
    recipients::Recipients,
};

type Told = (Option<Content>, Vec<Reminder>, Vec<Reminder>);

pub(super) fn content(
    scene: &mut Scene<'_, '_, '_>,
    reminders: Vec<Reminder>,
) -> Result<Told, StoreError> {
    let Some(event) = reminders.iter().find_map(about_event) else {
        return Ok((None, Vec::new(), reminders));
    };
    let club = scene.club;
    let event = store::events::get(scene.read, club.id, event)?;
    let entries = store::events::entries_of(scene.read, club.id, event.id)?;
    let today = club.zone.date_of(scene.now);
    if !event.is_ahead(today) || event.dates.days_left(today) < 0 {
        return Ok((None, Vec::new(), reminders));
    }
    let all = going(scene.read, club, &event, &entries, scene.now)?;
    let recipients = Recipients::of(scene.read, club.id)?;
    let for_coach = scene.posted.mail.kind == MailKind::Squad;
    let concerns = |one: &Going| {
        let own = in_care_of(one).any(|person| person == scene.recipient.id);
        let coached = recipients.of_going(one.entry.member).contains(&scene.recipient.id);
        if for_coach { coached } else { own }
    };
    let concerned: Vec<Going> = all.into_iter().filter(concerns).collect();
    let (told, untrue): (Vec<Reminder>, Vec<Reminder>) =
        reminders.into_iter().partition(|reminder| holds(reminder, &event, &concerned));
    let said = |one: &Going| told.iter().any(|reminder| says(reminder, one));
    let bows: Vec<GoingBow> = concerned.into_iter().filter(said).map(|one| one.row).collect();
    let notice = EventNotice {
        club: club.name.clone(),
        recipient: scene.recipient.name.clone(),
        for_coach,
        event_id: event.id,
        starts_on: event.dates.starts_on(),
        ends_on: event.dates.ends_on(),
        version: event.version,
        changed_at: event.changed_at,
        called_off: event.cancelled_at.is_some(),
        days_left: event.dates.days_left(today),
        event: event.name,
        bows,
    };
    let content = Some(notice).filter(|notice| !notice.bows.is_empty()).map(Content::Event);
    Ok((content, told, untrue))
}

const fn about_event(reminder: &Reminder) -> Option<EventId> {
    match reminder.about {
        About::Event { event, .. } => Some(event),
        _ => None,
    }
}

/// Whether a reminder still holds: the event is on that day, and a bow that it speaks of goes.
fn holds(reminder: &Reminder, event: &Event, going: &[Going]) -> bool {
    reminder.cycle == event_cycle(event.dates.starts_on())
        && going.iter().any(|one| says(reminder, one))
}

/// Whether a reminder speaks of a bow: of that one, or of all.
fn says(reminder: &Reminder, one: &Going) -> bool {
    reminder.about.bow().is_none_or(|bow| bow == one.bow.id)
}
