//! The question about a bow of which nothing was logged for a while. It writes what it is given and decides
//! nothing.

use askama::Template;
use domain::{ids::BowId, mail::SilenceNotice};

use super::{Letter, Links, RenderError, days::day, wrap::wrap};

/// Writes the question.
///
/// # Errors
/// [`RenderError`] if a template failed.
pub fn render(notice: &SilenceNotice, links: &Links<'_>) -> Result<Letter, RenderError> {
    let content = Content {
        club: notice.club.as_str(),
        recipient: notice.recipient.as_str(),
        bow: notice.bow.as_str(),
        bow_id: notice.bow_id,
        last: day(notice.last_on),
        example_day: notice.last_on.tomorrow().unwrap_or(notice.last_on).to_string(),
        days: notice.days,
        base_url: links.base_url(),
        quiet: links.quiet(),
    };
    Ok(Letter {
        subject: Subject { content: &content }.render()?,
        text: wrap(&Text { content: &content }.render()?),
        html: Html { content: &content }.render()?,
    })
}

#[derive(Template)]
#[template(path = "nudge/subject.txt")]
struct Subject<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "nudge/body.txt")]
struct Text<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "nudge/body.html")]
struct Html<'a> {
    content: &'a Content<'a>,
}

/// What both parts say.
struct Content<'a> {
    club: &'a str,
    recipient: &'a str,
    bow: &'a str,
    bow_id: BowId,
    last: String,
    example_day: String,
    days: i64,
    base_url: &'a str,
    quiet: Option<&'a str>,
}
