//! What a mail before an event says: what each bow that still goes needs by now.

use domain::{
    events::Event,
    ids::EventId,
    mail::{EventNotice, GoingBow, MailKind, Since, Told, ToldBow},
    reminders::{About, Reminder, event_cycle},
};
use jiff::civil::Date;
use store::StoreError;

use super::{Checked, Content, Scene};
use crate::{
    going::{Going, going, in_care_of},
    recipients::Recipients,
};

pub(super) fn content(
    scene: &mut Scene<'_, '_, '_>,
    reminders: Vec<Reminder>,
) -> Result<Checked, StoreError> {
    let Some(event) = reminders.iter().find_map(about_event) else {
        return Ok(Checked::untrue(reminders));
    };
    let club = scene.club;
    let event = store::events::get(scene.read, club.id, event)?;
    let entries = store::events::entries_of(scene.read, club.id, event.id)?;
    let today = club.zone.date_of(scene.now);
    if !event.is_ahead(today) || event.dates.days_left(today) < 0 {
        return Ok(Checked::untrue(reminders));
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
    let mut bows: Vec<GoingBow> = concerned.into_iter().filter(said).map(|one| one.row).collect();
    // The day on which it is told, and not that for which it was planned: the relay may have been away.
    let on = scene.recipient.zone.as_ref().unwrap_or(&club.zone).date_of(scene.now);
    let said = told.iter().map(|reminder| (reminder.id, telling(on, &event, reminder, &bows)));
    let said = said.collect();
    for bow in &mut bows {
        bow.since = since(scene, event.id, bow, for_coach)?;
    }
    let notice = EventNotice {
        club: club.name.clone(),
        recipient: scene.recipient.name.clone(),
        for_coach,
        event_id: event.id,
        starts_on: event.dates.starts_on(),
        ends_on: event.dates.ends_on(),
        version: event.version,
        changed_at: event.changed_at,
        on,
        days_left: event.dates.days_left(today),
        event: event.name,
        bows,
    };
    let content = Some(notice).filter(|notice| !notice.bows.is_empty()).map(Content::Event);
    Ok(Checked { content, told, untrue, said })
}

/// What a reminder tells by this mail: of its bow, or of all.
fn telling(on: Date, event: &Event, reminder: &Reminder, bows: &[GoingBow]) -> Told {
    let of_it = |bow: &&GoingBow| reminder.about.bow().is_none_or(|one| one == bow.bow_id);
    Told {
        on,
        starts_on: event.dates.starts_on(),
        ends_on: Some(event.dates.ends_on()),
        bows: bows.iter().filter(of_it).map(ToldBow::of).collect(),
    }
}

/// What has changed for a bow since the last mail about it to the same person, if there was one.
fn since(
    scene: &mut Scene<'_, '_, '_>,
    event: EventId,
    bow: &GoingBow,
    for_coach: bool,
) -> Result<Option<Since>, StoreError> {
    let (club, recipient) = (scene.club.id, scene.recipient.id);
    let of_bow = Some(bow.bow_id).filter(|_| !for_coach);
    let Some(told) = store::told::last(scene.read, club, event, of_bow, recipient)? else {
        return Ok(None);
    };
    let before = told.bows.iter().find(|before| before.bow == bow.bow_id);
    let changes = before.map(|before| ToldBow::of(bow).changes_since(before));
    Ok(changes.map(|changes| Since { on: told.on, changes }))
}

pub(super) const fn about_event(reminder: &Reminder) -> Option<EventId> {
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
