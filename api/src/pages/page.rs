//! A page on its way out: its words in a template, and the headers that every page has. It knows no link
//! and no reminder.

use actix_web::{
    HttpResponse, ResponseError,
    http::{StatusCode, header},
};
use askama::Template;
use domain::{text::capitalised, time::Zone};
use jiff::Timestamp;

use crate::{auth::Net, error::ApiError, server::Api};

/// A page, and the status that it is answered with.
pub(super) struct Page {
    status: StatusCode,
    html: String,
}

/// A page that only says something.
#[derive(Template, Default)]
#[template(path = "note.html")]
pub(super) struct Note {
    pub(super) club: String,
    pub(super) heading: String,
    pub(super) lines: Vec<String>,
    /// The sentence that goes with any advice, where a bow is spoken of.
    pub(super) first: Option<&'static str>,
}

impl Page {
    /// A written page.
    pub(super) fn of(status: StatusCode, page: &impl Template) -> Result<Self, ApiError> {
        let html = page.render().map_err(|error| ApiError::Internal(error.to_string()))?;
        Ok(Self { status, html })
    }
}

/// What follows is loaded and done by no page: nothing from elsewhere, no script, no frame around it, and
/// a form only to ourselves (Content Security Policy Level 3, from memory).
const POLICY: &str = "default-src 'none'; style-src 'self'; form-action 'self'; base-uri 'none'; \
    frame-ancestors 'none'";

/// The answer: the page, or one that says what went wrong.
pub(super) fn respond(page: Result<Page, ApiError>) -> HttpResponse {
    let (page, wait_s) = match page {
        Ok(page) => (page, None),
        Err(error) => {
            let wait_s = match &error {
                ApiError::TooOften(wait_s) => Some(*wait_s),
                ApiError::Unavailable(_) => Some(5),
                _ => None,
            };
            (refusal(&error), wait_s)
        }
    };
    let mut answer = HttpResponse::build(page.status);
    answer
        .content_type("text/html; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
        .insert_header((header::REFERRER_POLICY, "no-referrer"))
        .insert_header(("X-Robots-Tag", "noindex, nofollow"));
    if let Some(wait_s) = wait_s {
        answer.insert_header((header::RETRY_AFTER, wait_s.to_string()));
    }
    answer.body(page.html)
}

/// What went wrong, kindly.
fn refusal(error: &ApiError) -> Page {
    let (heading, line) = match error {
        ApiError::Internal(cause) => {
            tracing::error!(cause, "a page failed");
            ("Something went wrong here", "Nothing was changed. Try again later.".to_owned())
        }
        ApiError::Unavailable(cause) => {
            tracing::warn!(cause, "a page could not be made");
            let line = "It is not known whether it was done. Open the link again in a minute: it says \
                        what is on record.";
            ("Not now", line.to_owned())
        }
        ApiError::TooOften(wait_s) => {
            ("Too often", format!("Wait {}, then open the link again.", seconds(*wait_s)))
        }
        ApiError::NotFound(_) => return dead_link(),
        other => ("Nothing was changed", sentence(&other.to_string())),
    };
    note(error.status_code(), heading, &[&line])
}

fn seconds(count: u64) -> String {
    if count == 1 { "a second".to_owned() } else { format!("{count} seconds") }
}

/// A link that never was one, or is not whole.
pub(super) fn dead_link() -> Page {
    let lines = [
        "It is not whole, or was not made here. Mail programs sometimes cut a long link in two: copy \
         all of it from the mail, up to the end of its line.",
        "Nothing was changed.",
    ];
    note(StatusCode::NOT_FOUND, "This link does not work", &lines)
}

/// What somebody gets who follows what is none of our links: the page, and after many tries nothing for a
/// while. Links of ours are opened as often as anybody likes: programs that look a mail over do so in
/// bursts, and must not keep its reader from an answer.
pub(super) fn not_ours(api: &Api, from: Net) -> Result<Page, ApiError> {
    api.throttle.link(from)?;
    Ok(dead_link())
}

/// A page that only says something, and of no club.
fn note(status: StatusCode, heading: &str, lines: &[&str]) -> Page {
    let lines = lines.iter().map(|&line| line.to_owned()).collect();
    let page = Note { heading: heading.to_owned(), lines, ..Note::default() };
    let html = page.render().unwrap_or_else(|_cannot| heading.to_owned());
    Page { status, html }
}

/// Some words as a sentence.
pub(super) fn sentence(words: &str) -> String {
    format!("{}.", capitalised(words.trim_end_matches('.')))
}

/// A moment as people say it where they live.
pub(super) fn moment(at: Timestamp, zone: &Zone) -> String {
    let (on, time) = (zone.date_of(at), zone.time_of(at));
    format!("{}, {}", on.strftime("%a %-d %B"), time.strftime("%H:%M"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_become_a_sentence() {
        assert_eq!(sentence("it is over"), "It is over.");
        assert_eq!(sentence("it is over."), "It is over.");
        assert_eq!(sentence(""), ".");
    }

    #[test]
    fn a_moment_has_its_weekday_and_is_that_of_the_place() {
        let at = "2027-06-01T07:12:00Z".parse().unwrap();
        assert_eq!(moment(at, &Zone::parse("Europe/Lisbon").unwrap()), "Tue 1 June, 08:12");
    }
}
