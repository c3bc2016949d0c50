//! The notice that an event is on other days than those that were told, or called off. It writes what it
//! is given and decides nothing.

use askama::Template;
use domain::{mail::MovedNotice, text::capitalised};

use super::{
    Letter, Links, RenderError,
    days::{day, on_days},
    wrap::wrap,
};

/// Writes a notice.
///
/// # Errors
/// [`RenderError`] if a template failed.
pub fn render(notice: &MovedNotice, _links: &Links<'_>) -> Result<Letter, RenderError> {
    let told = if notice.called_off {
        format!("it was to be {}", on_days(notice.told))
    } else {
        format!("not {}", on_days(notice.told))
    };
    let content = Content {
        club: notice.club.as_str(),
        recipient: notice.recipient.as_str(),
        event: notice.event.as_str(),
        gist: if notice.called_off {
            "is called off".to_owned()
        } else {
            format!("is {}", on_days(notice.days))
        },
        sentence: capitalised(&told),
        told,
        told_on: day(notice.told_on),
        next: if notice.called_off {
            "No more mail comes about it. What bows need by their own count is told as ever."
        } else {
            "The next mail about it says what is to be done by when; days for work may be others now."
        },
    };
    Ok(Letter {
        subject: Subject { content: &content }.render()?,
        text: wrap(&Text { content: &content }.render()?),
        html: Html { content: &content }.render()?,
    })
}

#[derive(Template)]
#[template(path = "moved/subject.txt")]
struct Subject<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "moved/body.txt")]
struct Text<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "moved/body.html")]
struct Html<'a> {
    content: &'a Content<'a>,
}

/// What both parts say.
struct Content<'a> {
    club: &'a str,
    recipient: &'a str,
    event: &'a str,
    gist: String,
    told: String,
    /// The same as the beginning of a sentence.
    sentence: String,
    told_on: String,
    next: &'static str,
}
