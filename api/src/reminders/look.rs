//! How a reminder stands to whoever is about to answer it: whether it is still true, and what it is about.

use std::sync::Arc;

use domain::{
    bows::Bow,
    clubs::Club,
    mail::{Act, done_by_link},
    parts::Part,
    reminders::{About, Reminder, ReminderState},
    rules::RuleTask,
};
use jiff::Timestamp;
use store::{Read, due::Judged, reminders::Listed};

use crate::{
    auth::{NOT_THEIRS, SignedIn},
    error::ApiError,
};

/// How a reminder stands to whoever is about to answer it.
pub(crate) enum Standing {
    /// It is still true.
    Open(Box<Open>),
    /// It was answered.
    Answered(Box<Listed>),
    /// The bow is out of their reach by now.
    NotTheirs,
    /// It cannot be answered any more, or never could; why.
    Gone(&'static str),
}

/// A reminder that is still true, and what it is about.
pub(crate) struct Open {
    pub(crate) listed: Listed,
    pub(crate) club: Club,
    pub(crate) bow: Arc<Bow>,
    /// What is to be done on which part, where it is about work.
    pub(crate) work: Option<Work>,
    /// Why it was asked, in today's numbers.
    pub(crate) reason: String,
    /// Why the bow must not be shot, if so.
    pub(crate) stopped: Option<String>,
}

/// Work that a reminder asks for.
pub(crate) struct Work {
    pub(crate) part: Part,
    pub(crate) task: RuleTask,
    /// When it was last done.
    pub(crate) last_done_at: Option<Timestamp>,
}

/// Why a reminder cannot be answered.
const CANCELLED: &str = "it was not true any more before its mail went out";
const NO_ANSWER: &str = "a notice of this kind takes no answer";
const RETIRED: &str = "the part is out of use by now";
const ELSEWHERE: &str = "the part is not under that bow any more";
const NOT_DUE: &str = "the work was done meanwhile, or is not asked for any more";

impl Open {
    pub(super) fn reminder(&self) -> &Reminder {
        &self.listed.reminder
    }

    /// Whether it can be answered so, as far as that is known before.
    pub(crate) fn takes(&self, act: Act) -> bool {
        match act {
            Act::Done => self.work.as_ref().is_some_and(|work| done_by_link(work.task)),
            Act::Snooze => true,
            Act::NotMine => self.bow.carers().contains(&self.reminder().recipient),
        }
    }
}

/// How a reminder stands to somebody now.
pub(crate) fn look(
    read: &mut Read<'_>,
    who: SignedIn,
    listed: Listed,
    now: Timestamp,
) -> Result<Standing, ApiError> {
    match listed.reminder.state {
        ReminderState::Done | ReminderState::Disowned => {
            return Ok(Standing::Answered(Box::new(listed)));
        }
        ReminderState::Cancelled => return Ok(Standing::Gone(CANCELLED)),
        ReminderState::Raised | ReminderState::Sent | ReminderState::Snoozed => {}
    }
    let (About::Work { bow, .. } | About::Silence { bow }) = listed.reminder.about else {
        return Ok(Standing::Gone(NO_ANSWER));
    };
    let bow = store::bows::get(read, who.club, bow)?;
    if !who.reach(read)?.bow(&bow) {
        return Ok(Standing::NotTheirs);
    }
    let club = store::clubs::get(read, who.club)?;
    let About::Work { part, task, .. } = listed.reminder.about else {
        return open(read, club, listed, (bow, None), now);
    };
    let Some(judged) = store::due::of_parts(read, &club, &[part], now)?.pop() else {
        return Ok(Standing::Gone(ELSEWHERE));
    };
    if judged.record.part.retirement.is_some() {
        return Ok(Standing::Gone(RETIRED));
    }
    if judged.bow.as_ref().map(|under| under.id) != Some(bow.id) {
        return Ok(Standing::Gone(ELSEWHERE));
    }
    if listed.reminder.still_true(&judged.record, &judged.assessment).is_none() {
        return Ok(Standing::Gone(NOT_DUE));
    }
    open(read, club, listed, (bow, Some((judged, task))), now)
}

fn open(
    read: &mut Read<'_>,
    club: Club,
    listed: Listed,
    (bow, work): (Bow, Option<(Judged, RuleTask)>),
    now: Timestamp,
) -> Result<Standing, ApiError> {
    let stopped = store::bow_stops::reason(read, &club, bow.id, now)?;
    let mut reason = listed.reminder.reason.clone();
    let work = work.map(|(judged, task)| {
        if let Some(verdict) = listed.reminder.still_true(&judged.record, &judged.assessment) {
            reason.clone_from(&verdict.reason);
        }
        let reading = judged.record.reading(task.clock());
        let last_done_at = reading.and_then(|reading| reading.reset_at);
        Work { part: judged.record.part, task, last_done_at }
    });
    let bow = Arc::new(bow);
    Ok(Standing::Open(Box::new(Open { listed, club, bow, work, reason, stopped })))
}

/// Passes a reminder that can still be answered.
pub(super) fn still_open(standing: Standing) -> Result<Box<Open>, ApiError> {
    match standing {
        Standing::Open(open) => Ok(open),
        Standing::NotTheirs => Err(NOT_THEIRS),
        Standing::Answered(listed) => {
            let detail = match listed.reminder.state {
                ReminderState::Done => "it was said to be done",
                _ => "its recipient said that the bow is not theirs to look after",
            };
            Err(ApiError::Conflict { code: "already_answered", detail: detail.to_owned() })
        }
        Standing::Gone(why) => Err(ApiError::Conflict { code: "not_open", detail: why.to_owned() }),
    }
}

/// What only the recipient of a reminder may answer.
pub(super) fn to_them(who: SignedIn, listed: &Listed) -> Result<(), ApiError> {
    let words = ApiError::Forbidden("this is for whoever the reminder is to");
    if listed.reminder.recipient == who.member { Ok(()) } else { Err(words) }
}
