//! The mail by which somebody chooses another password. It writes what it is given; what the link is
//! sealed with it does not know.

use askama::Template;
use domain::mail::LinkNotice;

use super::{Letter, RenderError, wrap::wrap};

/// Writes the mail. `token` is what the link ends with; addresses lie below `base_url`.
///
/// # Errors
/// [`RenderError`] for a base URL that is none.
pub fn render(notice: &LinkNotice, token: &str, base_url: &str) -> Result<Letter, RenderError> {
    RenderError::check_base_url(base_url)?;
    let content = Content {
        club: notice.club.as_str(),
        recipient: notice.recipient.as_str(),
        until: notice.until.strftime("%a %-d %B %Y, %H:%M").to_string(),
        zone: notice.zone.name(),
        page: format!("{base_url}/reset/{token}"),
        call: format!("{base_url}/api/v1/auth/reset/{token}"),
    };
    Ok(Letter {
        subject: Subject { content: &content }.render()?,
        text: wrap(&Text { content: &content }.render()?),
        html: Html { content: &content }.render()?,
    })
}

#[derive(Template)]
#[template(path = "reset/subject.txt")]
struct Subject<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "reset/body.txt")]
struct Text<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "reset/body.html")]
struct Html<'a> {
    content: &'a Content<'a>,
}

/// What both parts say.
struct Content<'a> {
    club: &'a str,
    recipient: &'a str,
    until: String,
    zone: &'a str,
    page: String,
    call: String,
}
