//! The links in a mail as their reader finds them, and a browser that follows them without signing in.

use std::collections::BTreeSet;

use serde_json::Value;

use super::{
    Club,
    http::{Answer, Asked, client, send},
};

/// What all links in the mails of these tests lie below.
const BASE: &str = "https://tautline.example";

/// Every link in either part of a mail, and in its headers, by path.
pub(crate) fn links_in(mail: &Value) -> BTreeSet<String> {
    let header = mail["headers"]["List-Unsubscribe"].as_str().unwrap_or_default();
    let parts = [&mail["text"], &mail["html"]].map(|part| part.as_str().unwrap());
    let texts = parts.into_iter().chain([header]);
    texts.flat_map(|text| paths(text).collect::<Vec<_>>()).collect()
}

fn paths(text: &str) -> impl Iterator<Item = String> {
    let ends = |c: char| c.is_whitespace() || matches!(c, '"' | '<' | '>' | ')' | ',');
    text.split(BASE).skip(1).map(move |rest| {
        let path = rest.split(ends).next().unwrap_or_default().trim_end_matches('.');
        if path.is_empty() { "/".to_owned() } else { path.to_owned() }
    })
}

/// Where the answer of that label leads that stands first in a mail; both parts have the same.
#[track_caller]
pub(crate) fn act_link(mail: &Value, label: &str) -> String {
    act_link_after(mail, "", label)
}

/// The same for the first one after some words.
#[track_caller]
pub(crate) fn act_link_after(mail: &Value, words: &str, label: &str) -> String {
    let text = mail["text"].as_str().unwrap();
    let after = |text: &'_ str, words: &str| text.find(words).map(|at| at + words.len());
    let from = after(text, words).unwrap_or_else(|| panic!("{words:?} is not in {text}"));
    let label = format!("{label}:");
    let at = after(&text[from..], &label).unwrap_or_else(|| panic!("{label:?} is not in {text}"));
    // A long link stands on a line of its own.
    let link = text[from + at..].split_whitespace().next().unwrap();
    let html = mail["html"].as_str().unwrap();
    assert!(html.contains(&format!("{link}\"")), "{label} is not in the HTML part: {html}");
    link.strip_prefix(BASE).unwrap().to_owned()
}

/// A browser on a phone: it knows nobody's password and keeps nothing between two requests.
pub(crate) struct Browser<'a>(&'a Club);

const FORM: &str = "application/x-www-form-urlencoded";

impl<'a> Browser<'a> {
    pub(crate) const fn of(club: &'a Club) -> Self {
        Self(club)
    }

    /// Opens a page.
    #[track_caller]
    pub(crate) fn get(&self, path: &str) -> Answer {
        self.ask("GET", path, None)
    }

    /// Sends the form of a page.
    #[track_caller]
    pub(crate) fn post(&self, path: &str, form: &str) -> Answer {
        self.ask("POST", path, Some((FORM, form)))
    }

    #[track_caller]
    pub(crate) fn ask(&self, method: &str, path: &str, body: Option<(&str, &str)>) -> Answer {
        let headers = body.map(|(kind, _)| ("content-type", kind)).into_iter().collect();
        let body = body.map(|(_, body)| body.as_bytes());
        send(&client(), self.0.base(), &Asked { method, path, headers, body })
    }
}

impl Answer {
    /// The page, if it is one of that status and has every header of a page.
    #[track_caller]
    pub(crate) fn page(&self, status: u16) -> String {
        assert_eq!(self.status, status, "{self}");
        for (name, value) in [
            ("content-type", "text/html; charset=utf-8"),
            ("cache-control", "no-store"),
            ("referrer-policy", "no-referrer"),
            ("x-robots-tag", "noindex, nofollow"),
            ("x-content-type-options", "nosniff"),
            ("set-cookie", ""),
            ("location", ""),
        ] {
            assert_eq!(self.header(name), value, "{name}: {self}");
        }
        let policy = self.header("content-security-policy");
        assert!(policy.starts_with("default-src 'none'; style-src 'self'; form-action 'self'"));
        let page = String::from_utf8(self.body.clone()).unwrap();
        assert!(page.starts_with("<!doctype html>") && !page.contains("<script"), "{page}");
        page
    }
}
