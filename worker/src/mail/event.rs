//! The mail before an event: what a bow needs by when, to somebody who goes and, for all of a squad, to
//! its coach. It writes what it is given and decides nothing.

use askama::Template;
use domain::{
    mail::{Change, ChangeWindow, EventNotice, EventWork, GoingBow, Since, ToldWork},
    safety::{CAUTIONS, FIRST},
    text::capitalised,
};
use jiff::civil::Date;

use super::{
    Letter, Links, RenderError,
    days::{day, in_words, on_days},
    digest::{condition_by_then, edge, stopped},
    letter::as_much_as_fits,
    wrap::wrap,
};

/// Writes a mail before an event.
///
/// The text part always has every bow. The HTML part leaves out the last ones, and says how many,
/// where it would grow beyond 30 kB.
///
/// # Errors
/// [`RenderError`] for a notice without bows.
pub fn render(notice: &EventNotice, links: &Links<'_>) -> Result<Letter, RenderError> {
    if notice.bows.is_empty() {
        return Err(RenderError::Empty);
    }
    let content = Content::of(notice, links, notice.bows.len());
    Ok(Letter {
        subject: Subject { content: &content }.render()?,
        text: wrap(&Text { content: &content }.render()?),
        html: html(notice, links)?,
    })
}

fn html(notice: &EventNotice, links: &Links<'_>) -> Result<String, RenderError> {
    as_much_as_fits(notice.bows.len(), |count| {
        Ok(Html { content: &Content::of(notice, links, count) }.render()?)
    })
}

#[derive(Template)]
#[template(path = "event/subject.txt")]
struct Subject<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "event/body.txt")]
struct Text<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "event/body.html")]
struct Html<'a> {
    content: &'a Content<'a>,
}

/// What both parts say.
struct Content<'a> {
    club: &'a str,
    recipient: &'a str,
    event: &'a str,
    day: String,
    /// All of its days.
    days: String,
    left: String,
    /// What there is to do, in a few words for the subject.
    gist: String,
    lead: String,
    bows: Vec<BowContent<'a>>,
    left_out: usize,
    audience: &'static str,
    first: &'static str,
    cautions: &'static [&'static str],
    base_url: &'a str,
    quiet: Option<&'a str>,
}

/// A bow and all that it needs.
struct BowContent<'a> {
    name: &'a str,
    archer: Option<&'a str>,
    stopped: Option<String>,
    works: Vec<WorkContent<'a>>,
    change: String,
    /// What has changed since the last mail, if there was one.
    since: Option<SinceContent>,
}

/// What has changed since the last mail.
struct SinceContent {
    lead: String,
    changes: Vec<String>,
}

/// One piece of work.
struct WorkContent<'a> {
    /// By when which work, or that it has to wait.
    task: String,
    part: &'a str,
    condition: &'static str,
    reason: String,
    edge: &'static str,
}

impl<'a> Content<'a> {
    fn of(notice: &'a EventNotice, links: &'a Links<'_>, count: usize) -> Self {
        Self {
            club: notice.club.as_str(),
            recipient: notice.recipient.as_str(),
            event: notice.event.as_str(),
            day: day(notice.starts_on),
            days: on_days((notice.starts_on, notice.ends_on)),
            left: days_left(notice.days_left),
            gist: gist(notice),
            lead: lead(notice),
            bows: notice.bows.iter().take(count).map(|bow| BowContent::of(notice, bow)).collect(),
            left_out: notice.bows.len().saturating_sub(count),
            audience: if notice.for_coach {
                "the coaches of those who go"
            } else {
                "those who go and those who look after their bows"
            },
            first: FIRST,
            cautions: &CAUTIONS,
            base_url: links.base_url(),
            quiet: links.quiet(),
        }
    }
}

impl<'a> BowContent<'a> {
    fn of(notice: &EventNotice, bow: &'a GoingBow) -> Self {
        Self {
            name: bow.bow.as_str(),
            archer: Some(bow.archer.as_str()).filter(|_| bow.archer != notice.recipient),
            stopped: bow.stopped.as_deref().map(stopped),
            works: bow.works.iter().map(|work| WorkContent::of(bow, work)).collect(),
            change: change(bow),
            since: bow.since.as_ref().map(SinceContent::of),
        }
    }
}

impl SinceContent {
    fn of(since: &Since) -> Self {
        let on = day(since.on);
        let lead = if since.changes.is_empty() {
            format!("Nothing has changed since the mail of {on}.")
        } else {
            format!("Since the mail of {on}:")
        };
        Self { lead, changes: since.changes.iter().map(change_in_words).collect() }
    }
}

/// A change in a few words.
fn change_in_words(change: &Change) -> String {
    let task = |work: &ToldWork| work.task.instruction(work.part_kind);
    let when = |by: Option<Date>| match by {
        Some(by) => format!("by {}", day(by)),
        None => "after the event".to_owned(),
    };
    match change {
        Change::Stopped => "it must not be shot now".to_owned(),
        Change::Cleared => "it may be shot again".to_owned(),
        Change::Gone(work) => format!("done, or not asked for any more: {}", task(work)),
        Change::New(work) => format!("new: {}, {}", task(work), when(work.by)),
        Change::Moved { work, from } => {
            format!("{}: {} now, not {}", task(work), when(work.by), when(*from))
        }
        Change::Window { to: ChangeWindow::Until(last), .. } => {
            format!("string and serving may now be changed until {}", day(*last))
        }
        Change::Window { to: ChangeWindow::Closed, .. } => {
            "it has become too late to change string or serving".to_owned()
        }
        Change::Window { to: ChangeWindow::Open, .. } => {
            "string and serving may now be changed at any time".to_owned()
        }
        Change::Window { to: ChangeWindow::Unknown, .. } => {
            "until when string and serving may be changed cannot be said any more".to_owned()
        }
    }
}

impl<'a> WorkContent<'a> {
    fn of(bow: &GoingBow, work: &'a EventWork) -> Self {
        Self {
            // What waits for a bow to be cleared has no day yet.
            task: match bow.stopped {
                Some(_) => capitalised(&work.task.instruction(work.part_kind)),
                None => to_do(work),
            },
            part: work.part.as_str(),
            condition: condition_by_then(work.condition),
            reason: in_words(&work.reason),
            edge: edge(work.condition),
        }
    }
}

fn days_left(days: i64) -> String {
    match days {
        ..0 => "and has begun".to_owned(),
        0 => "today".to_owned(),
        1 => "tomorrow".to_owned(),
        days => format!("in {days} days"),
    }
}

/// What there is to do, in a few words.
fn gist(notice: &EventNotice) -> String {
    if notice.for_coach {
        let needing = notice.bows.iter().filter(|bow| bow.needs_something()).count();
        return match (needing, notice.bows.len()) {
            (0, 1) => "the bow that goes needs no work".to_owned(),
            (1, 1) => "the bow that goes needs work before it".to_owned(),
            (0, all) => format!("none of {all} bows needs work"),
            (1, all) => format!("one of {all} bows needs work before it"),
            (some, all) => format!("{some} of {all} bows need work before it"),
        };
    }
    if let Some(bow) = notice.bows.iter().find(|bow| bow.stopped.is_some()) {
        return format!("do not shoot {} before it is inspected", bow.bow);
    }
    let all = notice.bows.iter().flat_map(|bow| bow.works.iter().map(move |work| (bow, work)));
    let works: Vec<(&GoingBow, &EventWork)> = all.collect();
    match (works.as_slice(), notice.bows.as_slice()) {
        ([], [bow]) => format!("nothing to do for {}", bow.bow),
        ([], _) => "nothing to do for your bows".to_owned(),
        ([(bow, only)], _) => format!("{}, {}", bow.bow, in_short(only)),
        ([(bow, first), rest @ ..], _) => {
            format!("{}, {}, and {} more", bow.bow, in_short(first), rest.len())
        }
    }
}

/// Work in a few words.
fn in_short(work: &EventWork) -> String {
    let task = work.task.instruction(work.part_kind);
    match work.by {
        Some(by) => format!("{task} by {}", day(by)),
        None => format!("too late to {task}"),
    }
}

/// Work as the beginning of a line.
fn to_do(work: &EventWork) -> String {
    let task = work.task.instruction(work.part_kind);
    match work.by {
        Some(by) => format!("By {}: {task}", day(by)),
        None => format!("After the event: {task}"),
    }
}

fn lead(notice: &EventNotice) -> String {
    let works = notice.bows.iter().any(GoingBow::needs_something);
    match (notice.for_coach, works) {
        (true, true) => "This is what the bows of your archers need before it.".to_owned(),
        (true, false) => "No bow of your archers needs work before it.".to_owned(),
        (false, true) => "This is what your bow needs before it.".to_owned(),
        (false, false) => "As far as the records go, your bow needs nothing before it.".to_owned(),
    }
}

/// Until when string and serving may be changed.
fn change(bow: &GoingBow) -> String {
    if bow.stopped.is_some() {
        return "Have it inspected first. If it gets another string, every day counts: that has to settle and \
                be sighted in before the event."
            .to_owned();
    }
    match bow.change {
        ChangeWindow::Open => {
            "String and serving may be changed at any time; keep shots in hand to settle and sight in."
                .to_owned()
        }
        ChangeWindow::Until(last) => format!(
            "If string or serving is to be changed, then by {} at the latest, so that it settles and \
             can be sighted in; after that leave it alone unless it is unsafe.",
            day(last)
        ),
        ChangeWindow::Closed => "It is too late to change string or serving and still have it settled \
                                 and sighted in: leave it alone unless it is unsafe, and take a spare \
                                 that is shot in."
            .to_owned(),
        ChangeWindow::Unknown => "Too little was logged to say until when its string or serving can be \
                                  changed: leave room for the shots to settle and sight in."
            .to_owned(),
    }
}
