//! Answering a reminder by the link in its mail: what the page shows, and what its button does.

use actix_web::{HttpRequest, HttpResponse, get, http::StatusCode, post, web};
use askama::Template;
use domain::{
    ids::ClubId,
    mail::{Act, ActLink, SNOOZE_DAYS},
    members::Member,
    reminders::ReminderState,
    safety::FIRST,
    text,
    time::Zone,
};
use jiff::{Timestamp, civil};
use serde::Deserialize;
use store::{Read, StoreError, Tx, mail_links::open_act, reminders::Listed};
use utoipa::ToSchema;

use super::{
    form::{Form, unknown},
    page::{Note, Page, dead_link, moment, respond, sentence},
};
use crate::{
    auth::{Net, SignedIn},
    error::ApiError,
    reminders::{Given, Open, Standing, give, look, put_off},
    server::Api,
};

/// Who says so, where no more is told.
const BY_LINK: &str = "by the link in a mail";

/// What the form of the page sends.
#[derive(Deserialize, ToSchema)]
#[expect(dead_code, reason = "it is read field by field; this is how the document tells of it")]
pub(crate) struct AnswerForm {
    /// When the work was done: `now`, `yesterday` or `two_days_ago`, by the club's days; now, if absent.
    #[schema(example = "now")]
    when: Option<String>,
}

/// What the link in a mail would do. It changes nothing.
#[utoipa::path(
    operation_id = "show_answer",
    tag = "pages",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    responses(
        (status = 200, description = "A page with one button, or with what was answered before", content_type = "text/html"),
        (status = 404, description = "Not a link of ours", content_type = "text/html"),
        (status = 410, description = "The link has run out", content_type = "text/html")
    ),
    security(())
)]
#[get("/act/{token}")]
pub(crate) async fn show_answer(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
) -> HttpResponse {
    respond(show(&api, from, &token).await)
}

async fn show(api: &Api, from: Net, token: &str) -> Result<Page, ApiError> {
    api.throttle.link(from)?;
    let Some((club, link)) = open_act(&api.seals, token) else { return Ok(dead_link()) };
    let now = api.now();
    let seen = api.store.read(move |read| {
        let listed = store::reminders::get(read, club, link.reminder)?;
        see(read, club, link, listed, now)
    });
    seen.await?.shown(link.act, now, StatusCode::OK)
}

/// Do what the link in a mail is for, as whom the mail was to.
#[utoipa::path(
    operation_id = "answer_by_link",
    tag = "pages",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    request_body(content = AnswerForm, content_type = "application/x-www-form-urlencoded"),
    responses(
        (status = 200, description = "Done now, or before", content_type = "text/html"),
        (status = 404, description = "Not a link of ours", content_type = "text/html"),
        (status = 409, description = "It is not true any more, and nothing was changed", content_type = "text/html"),
        (status = 410, description = "The link has run out", content_type = "text/html"),
        (status = 422, description = "Not what the page offers", content_type = "text/html")
    ),
    security(())
)]
#[post("/act/{token}")]
pub(crate) async fn answer_by_link(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
    request: HttpRequest,
    body: web::Payload,
) -> HttpResponse {
    respond(answer(&api, from, &token, (&request, body)).await)
}

async fn answer(
    api: &Api,
    from: Net,
    token: &str,
    (request, body): (&HttpRequest, web::Payload),
) -> Result<Page, ApiError> {
    api.throttle.link(from)?;
    let form = Form::read(request, body).await;
    let Some((club, link)) = open_act(&api.seals, token) else { return Ok(dead_link()) };
    let (form, now) = (form?, api.now());
    form.only(&["when"])?;
    let when = form.get("when").map(str::to_owned);
    let answered = api.store.write(move |tx| {
        let listed = store::answers::get_to_answer(tx, club, link.reminder)?;
        match see(tx, club, link, listed, now)? {
            Seen::Open(open) => do_it(tx, &open, link.act, when.as_deref(), now),
            seen => Ok(seen),
        }
    });
    answered.await?.shown(link.act, now, StatusCode::CONFLICT)
}

/// Gives the answer; what is on record of it then.
fn do_it(
    tx: &mut Tx<'_>,
    open: &Asked,
    act: Act,
    when: Option<&str>,
    now: Timestamp,
) -> Result<Seen, ApiError> {
    let given = match act {
        Act::Done => {
            let when = when.unwrap_or(NOW);
            let whens = open.whens(now);
            let when = whens.iter().find(|one| one.word == when).ok_or_else(unknown)?;
            let note = text::Note::parse(BY_LINK).unwrap_or_default();
            Given::Done { at: when.at, note }
        }
        Act::Snooze => Given::Snooze { until: put_off(now, SNOOZE_DAYS).ok_or_else(unknown)? },
        Act::NotMine => Given::NotMine,
    };
    give(tx, open.who, &open.open, given, now, "answer_by_link")?;
    let listed = store::reminders::get(tx, open.who.club, open.open.listed.reminder.id)?;
    let place = open.place.clone();
    Ok(Seen::Used { place, listed, bow: Some(open.open.bow.name.to_string()) })
}

/// Where and to whom something is said.
#[derive(Clone)]
struct Place {
    club: String,
    /// Where its reader lives.
    zone: Zone,
}

/// What a link comes to now.
enum Seen {
    /// It can be answered.
    Open(Box<Asked>),
    /// It was answered, by this link or otherwise.
    Used { place: Place, listed: Listed, bow: Option<String> },
    /// It has run out.
    Expired(Place),
    /// It is not true any more; why.
    Gone(Place, &'static str),
}

/// What is asked, and of whom.
struct Asked {
    place: Place,
    who: SignedIn,
    member: Member,
    open: Open,
}

const LEFT: &str = "you are not in the club any more";
const NOT_YOURS: &str = "the bow is somebody else's to look after by now";
const NOT_SO: &str = "it cannot be answered in this way";

/// What a link comes to, read in one go with what it is about.
fn see(
    read: &mut Read<'_>,
    club: ClubId,
    link: ActLink,
    listed: Listed,
    now: Timestamp,
) -> Result<Seen, ApiError> {
    let member = store::members::get(read, club, listed.reminder.recipient)?;
    let club = store::clubs::get(read, club)?;
    let zone = member.zone.as_ref().unwrap_or(&club.zone).clone();
    let place = Place { club: club.name.to_string(), zone };
    let put_off = listed.reminder.state == ReminderState::Snoozed
        && listed.snoozed_until.is_some_and(|until| now < until);
    if link.act == Act::Snooze && put_off {
        return used(read, &club.id, place, listed);
    }
    let Some(who) = SignedIn::by_link(club.id, &member) else { return Ok(Seen::Gone(place, LEFT)) };
    match look(read, who, listed, now)? {
        Standing::Answered(listed) => used(read, &club.id, place, listed),
        _ if !link.works(now) => Ok(Seen::Expired(place)),
        Standing::NotTheirs => Ok(Seen::Gone(place, NOT_YOURS)),
        Standing::Gone(why) => Ok(Seen::Gone(place, why)),
        Standing::Open(open) if !open.takes(link.act) => Ok(Seen::Gone(place, NOT_SO)),
        Standing::Open(open) => Ok(Seen::Open(Box::new(Asked { place, who, member, open: *open }))),
    }
}

fn used(
    read: &mut Read<'_>,
    club: &ClubId,
    place: Place,
    listed: Listed,
) -> Result<Seen, ApiError> {
    let bow = match listed.reminder.about.bow() {
        Some(bow) => match store::bows::get(read, *club, bow) {
            Ok(bow) => Some(bow.name.to_string()),
            Err(StoreError::NotFound { .. }) => None,
            Err(error) => return Err(error.into()),
        },
        None => None,
    };
    Ok(Seen::Used { place, listed, bow })
}

/// A moment that the form offers.
struct When {
    word: &'static str,
    label: String,
    at: Timestamp,
}

const NOW: &str = "now";

impl Asked {
    /// When the work may have been done: now, or on one of the club's last days, which stands for its
    /// noon, as it does in a log; not before it was last done.
    fn whens(&self, now: Timestamp) -> Vec<When> {
        let zone = &self.open.club.zone;
        let label = format!("now ({})", moment(now, &self.place.zone));
        let mut whens = vec![When { word: NOW, label, at: now }];
        let last = self.open.work.as_ref().and_then(|work| work.last_done_at);
        let noon = civil::time(12, 0, 0, 0);
        let mut day = zone.date_of(now);
        for (word, called) in [("yesterday", "yesterday"), ("two_days_ago", "two days ago")] {
            let Ok(before) = day.yesterday() else { break };
            day = before;
            let Ok(at) = zone.instant(day, noon) else { break };
            if last.is_none_or(|last| at > last) {
                let label = format!("{called} ({})", day.strftime("%a %-d %B"));
                whens.push(When { word, label, at });
            }
        }
        whens
    }
}

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
    fn shown(self, act: Act, now: Timestamp, untrue: StatusCode) -> Result<Page, ApiError> {
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
                "When you press the button, you get no more reminders of work on it. Its coach and the \
                 owners of the club see that you said so. A notice that it must not be shot still comes \
                 to you."
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
                        of work on it. A notice that it must not be shot still comes to you.";
            note(place, "Not your bow", &[&line, seen])
        }
        _ => {
            let line = format!("{bow}: marked done on {at}. Nothing more to do.");
            note(place, "Done", &[&line])
        }
    }
}
