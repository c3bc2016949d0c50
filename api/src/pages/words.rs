//! The words of the pages that answer reminders. It reads nothing and decides nothing.

use actix_web::http::StatusCode;
use askama::Template;
use domain::{
    mail::{Act, SNOOZE_DAYS},
    reminders::ReminderState,
    safety::FIRST,
};
use jiff::Timestamp;
use store::reminders::Listed;

use super::{
    page::{Note, Page, moment, sentence},
    seen::{Asked, Place, Seen, When},
};
use crate::{error::ApiError, reminders::put_off};

/// The page with the button.
#[derive(Template)]
#[template(path = "act.html")]
struct Question {
    club: String,
    heading: String,
    stopped: Option<String>,
    lines: Vec<String>,
    rows: Vec<(&'static str, String)>,
    whens: Vec<When>,
    button: String,
    first: &'static str,
}

impl Seen {
    /// As a page; `untrue` is the status where nothing could be answered.
    pub(super) fn shown(
        self,
        act: Act,
        now: Timestamp,
        untrue: StatusCode,
    ) -> Result<Page, ApiError> {
        match self {
            Self::Open(asked) => Page::of(StatusCode::OK, &question(&asked, act, now)),
            Self::Used { place, listed, bow } => {
                Page::of(StatusCode::OK, &said(place, &listed, bow))
            }
            Self::Expired(place) => {
                let lines = [
                    "Links in a mail work for 30 days, and this one is older. Nothing was changed.",
                    "If the work was done, record it where you sign in, or tell your coach. If it is \
                     still to be done, the next mail has a fresh link.",
                ];
                let page = note(place, "This link has run out", &lines);
                Page::of(StatusCode::GONE, &page)
            }
            Self::Gone(place, why) => {
                let why = sentence(why);
                let page = note(place, "Nothing more to do", &[&why, "Nothing was changed."]);
                Page::of(untrue, &page)
            }
        }
    }
}

fn note(place: Place, heading: &str, lines: &[&str]) -> Note {
    Note {
        club: place.club,
        heading: heading.to_owned(),
        lines: lines.iter().map(|&line| line.to_owned()).collect(),
        first: Some(FIRST),
    }
}

fn question(asked: &Asked, act: Act, now: Timestamp) -> Question {
    let (open, zone) = (&asked.open, &asked.place.zone);
    let bow = open.bow.name.to_string();
    let task = open.work.as_ref().map(|work| sentence(&work.task.instruction(work.part.kind)));
    let mut rows = vec![("Bow", bow.clone())];
    if let Some(work) = &open.work {
        rows.push(("Part", format!("{}: {}", work.part.kind.label(), work.part.name)));
    }
    rows.extend(task.map(|task| ("Task", task)));
    rows.push(("As", asked.member.name.to_string()));
    let (heading, line, button) = match act {
        Act::Done => (
            "Was it done?".to_owned(),
            "When you press the button, this work is put on record as done.".to_owned(),
            "Mark as done".to_owned(),
        ),
        Act::Snooze => {
            let until = put_off(now, SNOOZE_DAYS).unwrap_or(now);
            rows.push(("When", format!("now; asked again from {}", moment(until, zone))));
            (
                format!("Ask again in {SNOOZE_DAYS} days?"),
                "When you press the button, you hear no more of this work until then, and again if it \
                 is still to be done. A notice that the bow must not be shot comes all the same."
                    .to_owned(),
                format!("Put it off for {SNOOZE_DAYS} days"),
            )
        }
        Act::NotMine => {
            rows.push(("When", moment(now, zone)));
            (
                format!("{bow}: not your bow?"),
                "When you press the button, you get no more reminders of work on it, unless you are an \
                 owner of the club and nobody else looks after it. Its coach and the owners of the club \
                 see that you said so. A notice that it must not be shot still comes to you."
                    .to_owned(),
                "It is not mine to look after".to_owned(),
            )
        }
    };
    rows.push(("Why asked", sentence(&open.reason)));
    let whens = if act == Act::Done { asked.whens(now) } else { Vec::new() };
    let (club, stopped) = (asked.place.club.clone(), open.stopped.as_deref().map(sentence));
    Question { club, heading, stopped, lines: vec![line], rows, whens, button, first: FIRST }
}

/// What was answered, and when.
fn said(place: Place, listed: &Listed, bow: Option<String>) -> Note {
    let at = listed.answered_at.map(|at| moment(at, &place.zone)).unwrap_or_default();
    let bow = bow.unwrap_or_else(|| "The bow".to_owned());
    match listed.reminder.state {
        ReminderState::Snoozed => {
            let until = listed.snoozed_until.map(|until| moment(until, &place.zone));
            let until = until.unwrap_or_default();
            let line = format!("{bow}: put off on {at}. You hear no more of it until {until}.");
            note(place, "Put off", &[&line, "Nothing more to do now."])
        }
        ReminderState::Disowned => {
            let line = format!("On {at} you said that {bow} is not yours to look after.");
            let seen = "Its coach and the owners of the club see that, and you get no more reminders \
                        of work on it, unless you are an owner of the club and nobody else looks after \
                        it. A notice that it must not be shot still comes to you.";
            note(place, "Not your bow", &[&line, seen])
        }
        _ => {
            let line = format!("{bow}: marked done on {at}. Nothing more to do.");
            note(place, "Done", &[&line])
        }
    }
}
