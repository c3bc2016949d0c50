//! The notice that a bow must not be shot. It writes what it is given and decides nothing.

use askama::Template;
use domain::{
    mail::StopNotice,
    safety::{CAUTIONS, FIRST},
    text::capitalised,
};

use super::{Letter, Links, RenderError, days::in_words, wrap::wrap};

/// Writes a notice.
///
/// # Errors
/// [`RenderError`] for a notice of nothing.
pub fn render(notice: &StopNotice, links: &Links<'_>) -> Result<Letter, RenderError> {
    let of_bow = notice.stopped.as_deref();
    let first = of_bow.or_else(|| Some(notice.parts.first()?.reason.as_str()));
    let first = first.ok_or(RenderError::Empty)?;
    let content = Content {
        club: notice.club.as_str(),
        recipient: notice.recipient.as_str(),
        bow: notice.bow.name.as_str(),
        archer: notice
            .archer
            .as_ref()
            .filter(|archer| **archer != notice.recipient)
            .map(|archer| format!("shot by {archer}")),
        subject: in_words(short(first)),
        bow_id: notice.bow.id.to_string(),
        stopped: of_bow.map(|reason| in_words(bare(reason))),
        parts: notice
            .parts
            .iter()
            .map(|part| PartContent {
                kind: capitalised(part.kind.label()),
                name: part.name.as_str(),
                reason: in_words(bare(&part.reason)),
            })
            .collect(),
        unreached: notice.unreached.iter().map(domain::text::Name::as_str).collect(),
        first: FIRST,
        cautions: &CAUTIONS,
        base_url: links.base_url(),
    };
    Ok(Letter {
        subject: Subject { content: &content }.render()?,
        text: wrap(&Text { content: &content }.render()?),
        html: Html { content: &content }.render()?,
    })
}

/// What happened and when, without what would lift it.
fn short(reason: &str) -> &str {
    let reason = bare(reason);
    reason.split(';').next().unwrap_or(reason)
}

/// A reason without the words that the notice begins with itself.
fn bare(reason: &str) -> &str {
    reason.strip_prefix("do not shoot: ").unwrap_or(reason)
}

#[derive(Template)]
#[template(path = "stop/subject.txt")]
struct Subject<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "stop/body.txt")]
struct Text<'a> {
    content: &'a Content<'a>,
}

#[derive(Template)]
#[template(path = "stop/body.html")]
struct Html<'a> {
    content: &'a Content<'a>,
}

/// What both parts say.
struct Content<'a> {
    club: &'a str,
    recipient: &'a str,
    bow: &'a str,
    archer: Option<String>,
    subject: String,
    bow_id: String,
    /// Why the bow itself must not be shot.
    stopped: Option<String>,
    parts: Vec<PartContent<'a>>,
    unreached: Vec<&'a str>,
    first: &'static str,
    cautions: &'static [&'static str],
    base_url: &'a str,
}

/// A part that must not be shot.
struct PartContent<'a> {
    kind: String,
    name: &'a str,
    reason: String,
}
