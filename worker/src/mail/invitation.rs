//! The mail that asks somebody to join a club.

use askama::Template;
use domain::mail::LinkNotice;

use super::{Letter, Links, RenderError, link::Content, wrap::wrap};

/// Writes the mail. `token` is what the link ends with.
///
/// # Errors
/// [`RenderError`] if a template failed.
pub fn render(notice: &LinkNotice, token: &str, links: &Links<'_>) -> Result<Letter, RenderError> {
    let content = Content::of(notice, token, links, ("invitations", "api/v1/invitations"));
    Ok(Letter {
        subject: Subject { content: &content }.render()?,
        text: wrap(&Text { content: &content }.render()?),
        html: Html { content: &content }.render()?,
    })
}

#[derive(Template)]
#[template(path = "invitation/subject.txt")]
struct Subject<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "invitation/body.txt")]
struct Text<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "invitation/body.html")]
struct Html<'a> {
    content: &'a Content<'a>,
}
