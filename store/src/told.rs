//! What mails before events told, so that the next one can say what has changed since, and so that nobody
//! goes on a day that a mail named and that is not the day any more.

use std::{cmp::Reverse, collections::BTreeMap};

use diesel::prelude::*;
use domain::{
    ids::{BowId, ClubId, EventId, MemberId, PartId, ReminderId},
    mail::{ChangeWindow, MailState, Told, ToldBow, ToldWork},
    parts::PartKind,
    rules::RuleTask,
};
use jiff::{Timestamp, civil::Date};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::{
    Read, StoreError, Tx,
    schema::{events, outbox, reminders},
    sql_types::{Key, Utc},
};

/// The kind of reminders that tell of an event.
const EVENT: &str = "event";

/// As it is kept: JSON, since it is read by nobody but the next mail.
#[derive(Serialize, Deserialize)]
struct Kept {
    on: Date,
    starts_on: Date,
    ends_on: Option<Date>,
    bows: Vec<KeptBow>,
}

#[derive(Serialize, Deserialize)]
struct KeptBow {
    bow_id: Uuid,
    stopped: bool,
    works: Vec<KeptWork>,
    change: KeptWindow,
}

#[derive(Serialize, Deserialize)]
struct KeptWork {
    part_id: Uuid,
    part_kind: String,
    task: String,
    by: Option<Date>,
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum KeptWindow {
    Open,
    Until(Date),
    Closed,
    Unknown,
}

impl From<&Told> for Kept {
    fn from(told: &Told) -> Self {
        let work = |work: &ToldWork| KeptWork {
            part_id: work.part.0,
            part_kind: work.part_kind.as_str().to_owned(),
            task: work.task.as_str().to_owned(),
            by: work.by,
        };
        let bow = |bow: &ToldBow| KeptBow {
            bow_id: bow.bow.0,
            stopped: bow.stopped,
            works: bow.works.iter().map(work).collect(),
            change: match bow.change {
                ChangeWindow::Open => KeptWindow::Open,
                ChangeWindow::Until(day) => KeptWindow::Until(day),
                ChangeWindow::Closed => KeptWindow::Closed,
                ChangeWindow::Unknown => KeptWindow::Unknown,
            },
        };
        let bows = told.bows.iter().map(bow).collect();
        Self { on: told.on, starts_on: told.starts_on, ends_on: told.ends_on, bows }
    }
}

impl Kept {
    /// What was told; a word that this release does not know makes it nothing.
    fn told(self) -> Option<Told> {
        let work = |work: KeptWork| {
            Some(ToldWork {
                part: PartId(work.part_id),
                part_kind: PartKind::parse(&work.part_kind)?,
                task: RuleTask::parse(&work.task)?,
                by: work.by,
            })
        };
        let bow = |bow: KeptBow| {
            Some(ToldBow {
                bow: BowId(bow.bow_id),
                stopped: bow.stopped,
                works: bow.works.into_iter().map(work).collect::<Option<_>>()?,
                change: match bow.change {
                    KeptWindow::Open => ChangeWindow::Open,
                    KeptWindow::Until(day) => ChangeWindow::Until(day),
                    KeptWindow::Closed => ChangeWindow::Closed,
                    KeptWindow::Unknown => ChangeWindow::Unknown,
                },
            })
        };
        let bows = self.bows.into_iter().map(bow).collect::<Option<_>>()?;
        Some(Told { on: self.on, starts_on: self.starts_on, ends_on: self.ends_on, bows })
    }
}

/// Keeps what the mail of a reminder told.
pub fn keep(
    tx: &mut Tx<'_>,
    club: ClubId,
    reminder: ReminderId,
    told: &Told,
) -> Result<(), StoreError> {
    let text = serde_json::to_string(&Kept::from(told)).map_err(|_never| unreadable(reminder.0))?;
    diesel::update(reminders::table.find((Key(club.0), Key(reminder.0))))
        .set(reminders::told.eq(Some(text)))
        .execute(tx.conn())?;
    Ok(())
}

fn unreadable(id: Uuid) -> StoreError {
    StoreError::Inconsistent { table: "reminders", column: "told", id, found: "no JSON".to_owned() }
}

fn read_back(id: Key, text: Option<&String>) -> Result<Option<Told>, StoreError> {
    let Some(text) = text else { return Ok(None) };
    let kept: Kept = serde_json::from_str(text).map_err(|_bad| unreadable(id.0))?;
    Ok(kept.told())
}

/// Which reminder told of which bow what; when its mail went out, and when it was raised; how far that mail
/// has come.
type Row = (Key, Option<Key>, Option<String>, (Option<Utc>, Utc), String);

/// A telling: whether its mail has come to an end; of which bow, none where it was of all bows or of none;
/// and what.
type Telling = (bool, Option<BowId>, Told);

/// What somebody was told of an event, the last first: in the order in which the mails went out, which is
/// not that in which their reasons were found.
fn of_event(
    read: &mut Read<'_>,
    club: ClubId,
    event: EventId,
    recipient: MemberId,
) -> Result<Vec<Telling>, StoreError> {
    let of_event = reminders::club_id
        .eq(Key(club.0))
        .and(reminders::recipient_member_id.eq(Key(recipient.0)))
        .and(reminders::event_id.eq(Key(event.0)).assume_not_null())
        .and(reminders::told.is_not_null());
    let its_mail = outbox::club_id.eq(reminders::club_id).and(outbox::id.eq(reminders::mail_id));
    let moment = (outbox::finished_at, reminders::raised_at);
    let rows: Vec<Row> = reminders::table
        .inner_join(outbox::table.on(its_mail))
        .filter(of_event)
        .select((reminders::id, reminders::bow_id, reminders::told, moment, outbox::state))
        .order((outbox::finished_at.desc(), reminders::raised_at.desc(), reminders::id.desc()))
        .load(read.conn())?;
    let mut tellings = Vec::with_capacity(rows.len());
    let over = [MailState::Sent, MailState::Cancelled, MailState::Dead].map(MailState::as_str);
    for (id, bow, text, at, state) in rows {
        let told = read_back(id, text.as_ref())?;
        let at = (at.0.map(|at| at.0), at.1.0);
        let bow = bow.map(|bow| BowId(bow.0));
        tellings.extend(told.map(|told| (at, (over.contains(&state.as_str()), bow, told))));
    }
    // What was found and went out in the same moment as days that were put right goes by the right ones.
    tellings.sort_by_key(|(at, (.., told))| Reverse((*at, !told.bows.is_empty())));
    Ok(tellings.into_iter().map(|(_, telling)| telling).collect())
}

/// What somebody was last told of an event: of one bow or, without one, of all of their archers'.
pub fn last(
    read: &mut Read<'_>,
    club: ClubId,
    event: EventId,
    bow: Option<BowId>,
    recipient: MemberId,
) -> Result<Option<Told>, StoreError> {
    let mut tellings = of_event(read, club, event, recipient)?.into_iter();
    // That an event was moved is told of no bow; and a second copy of a mail says what the first one said.
    let last =
        tellings.find(|(over, of_bow, told)| *over && *of_bow == bow && !told.bows.is_empty());
    Ok(last.map(|(.., told)| told))
}

/// What somebody was last told of an event's days, and all that they were told of bows since these were
/// last put right: a mail is kept by bow, and work that the last one did not repeat was told as well.
pub fn latest(
    read: &mut Read<'_>,
    club: ClubId,
    event: EventId,
    recipient: MemberId,
) -> Result<Option<Told>, StoreError> {
    let mut tellings = of_event(read, club, event, recipient)?.into_iter().map(|(.., told)| told);
    let Some(mut latest) = tellings.next() else { return Ok(None) };
    if !latest.bows.is_empty() {
        let since = tellings.take_while(|told| !told.bows.is_empty());
        since.for_each(|earlier| latest.follow(earlier));
    }
    Ok(Some(latest))
}

/// What people were last told of events that were changed or called off since a moment.
pub fn of_changed_events(
    read: &mut Read<'_>,
    club: ClubId,
    since: Timestamp,
) -> Result<BTreeMap<(EventId, MemberId), Told>, StoreError> {
    let joined =
        events::club_id.eq(reminders::club_id).and(events::id.nullable().eq(reminders::event_id));
    let its_mail = outbox::club_id.eq(reminders::club_id).and(outbox::id.eq(reminders::mail_id));
    let rows: Vec<(Key, Key, Key, Option<String>)> = reminders::table
        .inner_join(events::table.on(joined))
        .inner_join(outbox::table.on(its_mail))
        .filter(reminders::club_id.eq(Key(club.0)).and(reminders::kind.eq(EVENT)))
        .filter(events::version.gt(1).and(events::changed_at.ge(Utc(since))))
        .filter(reminders::told.is_not_null())
        .select((reminders::id, events::id, reminders::recipient_member_id, reminders::told))
        // One that is in doubt comes first, on either database.
        .order((
            outbox::finished_at.is_not_null(),
            outbox::finished_at,
            reminders::raised_at,
            reminders::id,
        ))
        .load(read.conn())?;
    let mut last = BTreeMap::new();
    for (id, event, recipient, text) in rows {
        if let Some(told) = read_back(id, text.as_ref())? {
            last.insert((EventId(event.0), MemberId(recipient.0)), told);
        }
    }
    Ok(last)
}
