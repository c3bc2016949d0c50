//! What becomes of an answer to a reminder, whether it was given by whoever is signed in or by the link in
//! a mail: it knows nothing of pages.

use domain::{
    audit::Subject,
    bows::Bow,
    ids::{PartId, ReminderId, UpkeepId},
    ledger::Clock,
    mail::Act,
    parts::Part,
    reminders::ReminderState,
    text::Note,
    upkeep::{Upkeep, UpkeepTask},
};
use jiff::Timestamp;
use serde::Serialize;
use store::{Read, StoreError, Tx, fresh_id};
use uuid::Uuid;

use super::{body::ReminderBody, look::Open};
use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, error::ApiError, fields::FieldError,
    upkeep::WorkBody,
};

/// An answer, with all that it says.
#[derive(Debug, Clone)]
pub(crate) enum Given {
    /// The work was done then.
    Done { at: Timestamp, note: Note },
    /// Ask again from then on.
    Snooze { until: Timestamp },
    /// Somebody else looks after that bow.
    NotMine,
}

/// Gives an answer to a reminder that is open, in the transaction in which it was looked at, and puts on
/// record by which operation who gave it.
pub(crate) fn give(
    tx: &mut Tx<'_>,
    who: SignedIn,
    open: &Open,
    given: Given,
    now: Timestamp,
    operation: &'static str,
) -> Result<(), ApiError> {
    match given {
        Given::Done { at, note } => done(tx, who, open, (at, note), now, operation),
        Given::Snooze { until } => snooze(tx, who, open, until, now, operation),
        Given::NotMine => not_mine(tx, who, open, now, operation),
    }
}

/// The reminder after it was answered.
pub(super) fn answered(
    tx: &mut Tx<'_>,
    who: SignedIn,
    reminder: ReminderId,
) -> Result<Answer, ApiError> {
    let listed = store::reminders::get(tx, who.club, reminder)?;
    let body = ReminderBody::some(tx, who, vec![listed])?;
    Answer::ok(&body.first())
}

fn conflict(code: &'static str, detail: &str) -> ApiError {
    ApiError::Conflict { code, detail: detail.to_owned() }
}

/// The work that was done, for the record of who said so.
#[derive(Serialize)]
struct Recorded<'a> {
    #[serde(flatten)]
    work: &'a WorkBody,
    reminder_id: Uuid,
    #[serde(rename = "successor_part_id")]
    successor: Option<Uuid>,
}

fn done(
    tx: &mut Tx<'_>,
    who: SignedIn,
    open: &Open,
    (at, note): (Timestamp, Note),
    now: Timestamp,
    operation: &'static str,
) -> Result<(), ApiError> {
    let Some(work) = open.work.as_ref().filter(|_| open.takes(Act::Done)) else {
        let detail = "that it was done is not said in a word: change the string of its bow, or log \
                      what was shot";
        return Err(conflict("not_done_by_word", detail));
    };
    let task = match work.task.clock() {
        Clock::Since(task) => task,
        Clock::Life => UpkeepTask::ReServed,
    };
    let part = store::parts::get_to_change(tx, who.club, work.part.id)?;
    part.in_use()?;
    if let Err(error) = task.done_on(part.kind) {
        return Err(conflict("wrong_task", &error.to_string()));
    }
    if work.last_done_at.is_some_and(|last| at <= last) {
        let detail = "it was done later than that already, as the record has it";
        return Err(ApiError::Invalid(vec![FieldError::new("/at", "before_last_done", detail)]));
    }
    // Such a word lifts no stop: nobody looked, as far as it is known.
    let entered = Upkeep::new(fresh_id::<UpkeepId>(now), part.id, task, at, who.member);
    let entered = Upkeep { note, received_at: now, ..entered }.judged_by(false);
    let successor = record(tx, who, &part, &entered)?;
    store::answers::done(tx, who.club, open.reminder().id, now)?;
    let (id, body) = (entered.id, WorkBody::from(entered));
    let recorded = Recorded {
        work: &body,
        reminder_id: open.reminder().id.0,
        successor: successor.map(|part| part.0),
    };
    let changed = Changed::of(operation, Subject::Upkeep, id.0).about(Some(open.bow.id));
    who.record(tx, now, changed.after(&recorded)?)
}

/// Puts the work on record; gives the part that took the old one's place, if one did.
fn record(
    tx: &mut Tx<'_>,
    who: SignedIn,
    part: &Part,
    work: &Upkeep,
) -> Result<Option<PartId>, ApiError> {
    if work.task != UpkeepTask::ReServed {
        store::upkeep::record(tx, who.club, part, work)?;
        return Ok(None);
    }
    if store::stops::parts(tx, who.club)?.contains(&part.id) {
        let detail = "it must not be shot: a coach or owner inspects it, and what is under it, before it \
                      is served anew";
        return Err(conflict("would_lift_stop", detail));
    }
    store::upkeep::re_serve::<ApiError>(tx, who.club, part, work).map(Some)
}

/// What a reminder said before and says now, for the record.
#[derive(Serialize)]
struct Deferred<'a> {
    state: &'a str,
    snoozed_until: Option<Timestamp>,
}

fn snooze(
    tx: &mut Tx<'_>,
    who: SignedIn,
    open: &Open,
    until: Timestamp,
    now: Timestamp,
    operation: &'static str,
) -> Result<(), ApiError> {
    let reminder = open.reminder();
    store::answers::snooze(tx, who.club, reminder, now, until)?;
    let state = reminder.state.as_str();
    let before = Deferred { state, snoozed_until: open.listed.snoozed_until };
    let state = ReminderState::Snoozed.as_str();
    let after = Deferred { state, snoozed_until: Some(until) };
    let changed = Changed::of(operation, Subject::Reminder, reminder.id.0);
    let changed = changed.about(Some(open.bow.id)).before(&before)?.after(&after)?;
    who.record(tx, now, changed)
}

/// Who does not look after a bow, for the record.
#[derive(Serialize)]
struct Disowned {
    disowned_by_member_ids: Vec<Uuid>,
}

impl Disowned {
    fn read(read: &mut Read<'_>, who: SignedIn, bow: &Bow) -> Result<Self, StoreError> {
        let members = store::disowned_bows::of_bow(read, who.club, bow.id)?;
        Ok(Self { disowned_by_member_ids: members.iter().map(|member| member.0).collect() })
    }
}

fn not_mine(
    tx: &mut Tx<'_>,
    who: SignedIn,
    open: &Open,
    now: Timestamp,
    operation: &'static str,
) -> Result<(), ApiError> {
    if !open.takes(Act::NotMine) {
        let detail = "it is not on record as theirs: they are told of it for others";
        return Err(conflict("not_on_record_as_theirs", detail));
    }
    let (bow, recipient) = (open.bow.id, open.reminder().recipient);
    let before = Disowned::read(tx, who, &open.bow)?;
    store::disowned_bows::add(tx, who.club, bow, recipient, now)?;
    store::answers::disown(tx, who.club, bow, recipient, now)?;
    let after = Disowned::read(tx, who, &open.bow)?;
    let changed = Changed::of(operation, Subject::Bow, bow.0).about(Some(bow));
    who.record(tx, now, changed.before(&before)?.after(&after)?)
}
