//! The notice to a guardian that a minor has stopped some mail. It writes what it is given and decides
//! nothing.

use askama::Template;
use domain::mail::{MailKind, QuietedNotice};

use super::{Letter, Links, RenderError, wrap::wrap};

/// Writes a notice.
///
/// # Errors
/// [`RenderError`] for a notice of nothing.
pub fn render(notice: &QuietedNotice, _links: &Links<'_>) -> Result<Letter, RenderError> {
    if notice.kinds.is_empty() {
        return Err(RenderError::Empty);
    }
    let content = Content {
        club: notice.club.as_str(),
        guardian: notice.guardian.as_str(),
        minor: notice.minor.as_str(),
        kinds: notice.kinds.iter().map(|kind: &MailKind| kind.label()).collect(),
    };
    Ok(Letter {
        subject: Subject { content: &content }.render()?,
        text: wrap(&Text { content: &content }.render()?),
        html: Html { content: &content }.render()?,
    })
}

#[derive(Template)]
#[template(path = "quieted/subject.txt")]
struct Subject<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "quieted/body.txt")]
struct Text<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "quieted/body.html")]
struct Html<'a> {
    content: &'a Content<'a>,
}

/// What both parts say.
struct Content<'a> {
    club: &'a str,
    guardian: &'a str,
    minor: &'a str,
    kinds: Vec<&'static str>,
}
