//! Which mail was the first about something: a mail reader shows what follows below it.

use diesel::prelude::*;
use domain::{
    ids::{ClubId, MailId},
    mail::MailState,
    reminders::{About, Reminder, ReminderState},
};

use crate::{
    Read, StoreError,
    conn::MultiBackend,
    schema::{outbox, reminders},
    sql_types::Key,
};

/// What tells one thing that was told of from another: part, bow, rule; and the mail that told it.
type Row = (Option<Key>, Option<Key>, Option<Key>, Key);

/// The first mail that went out to the same person about the same thing as a reminder: the same round of
/// work, the same stop, the same event.
pub fn first_mail(
    read: &mut Read<'_>,
    club: ClubId,
    reminder: &Reminder,
) -> Result<Option<MailId>, StoreError> {
    let about = reminder.about;
    let untold = [ReminderState::Raised, ReminderState::Cancelled].map(ReminderState::as_str);
    // A reminder may have been answered before its mail went out, and that mail may have come to nothing.
    let its_mail = outbox::club_id
        .eq(reminders::club_id)
        .and(outbox::id.eq(reminders::mail_id))
        .and(outbox::state.eq(MailState::Sent.as_str()));
    let told = reminders::table
        .inner_join(outbox::table.on(its_mail))
        .filter(reminders::club_id.eq(Key(club.0)).and(reminders::kind.eq(about.kind())))
        .filter(reminders::recipient_member_id.eq(Key(reminder.recipient.0)))
        .filter(reminders::state.ne_all(untold))
        .select((reminders::part_id, reminders::bow_id, reminders::rule_id, reminders::mail_id))
        .order((reminders::raised_at, reminders::id))
        .into_boxed::<MultiBackend>();
    let event = match about {
        About::Event { event, .. } => Some(event),
        _ => None,
    };
    let told = match event {
        Some(event) => told.filter(reminders::event_id.eq(Key(event.0)).assume_not_null()),
        None => told.filter(reminders::cycle.eq(&reminder.cycle)),
    };
    let rows: Vec<Row> = told.load(read.conn())?; // unordered: the order is set above
    let rule = match about {
        About::Work { rule, .. } => Some(Key(rule.0)),
        _ => None,
    };
    let key = (about.part().map(|part| Key(part.0)), about.bow().map(|bow| Key(bow.0)), rule);
    let alike = |row: &&Row| event.is_some() || (row.0, row.1, row.2) == key;
    Ok(rows.iter().find(alike).map(|row| MailId(row.3.0)))
}
