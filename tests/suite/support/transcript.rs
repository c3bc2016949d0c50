//! What was answered in the course of a test, with what may differ from run to run masked, so that
//! two databases can be held against each other.

use std::fmt::Write;

use serde_json::Value;

use super::Answer;

/// Links below these carry ids under a seal.
const SEALED: [&str; 2] = ["/act/", "/quiet/"];

/// Answers, in the order they were given.
#[derive(Debug, Default, PartialEq)]
pub(crate) struct Transcript {
    answers: Vec<(String, u16, Value)>,
    ids: Vec<String>,
}

impl Transcript {
    /// Notes an answer and passes its body on.
    #[track_caller]
    pub(crate) fn note(&mut self, what: &str, answer: &Answer) -> Value {
        let body = answer.json();
        let masked = self.masked(body.clone());
        self.answers.push((what.to_owned(), answer.status, masked));
        body
    }

    /// Notes a value that is no answer.
    pub(crate) fn note_value(&mut self, what: &str, value: Value) {
        let masked = self.masked(value);
        self.answers.push((what.to_owned(), 0, masked));
    }

    /// How many there are.
    pub(crate) const fn len(&self) -> usize {
        self.answers.len()
    }

    /// What differs first, in words; none if both are the same.
    pub(crate) fn first_difference(&self, other: &Self) -> Option<String> {
        let differing =
            self.answers.iter().zip(&other.answers).find(|(mine, theirs)| mine != theirs);
        match differing {
            Some((mine, theirs)) => Some(format!("{mine:#?}\n{theirs:#?}")),
            None if self.len() != other.len() => {
                Some(format!("{} and {} answers", self.len(), other.len()))
            }
            None => None,
        }
    }

    /// Each id becomes its place in the order of first appearance, so that which is which stays
    /// visible.
    fn masked(&mut self, value: Value) -> Value {
        match value {
            Value::String(text) => Value::String(self.masked_text(&text)),
            Value::Array(values) => values.into_iter().map(|value| self.masked(value)).collect(),
            Value::Object(members) => {
                members.into_iter().map(|(name, value)| (name, self.masked(value))).collect()
            }
            other => other,
        }
    }

    fn masked_text(&mut self, text: &str) -> String {
        let mut masked = String::new();
        // A calendar's line may be folded within an id (RFC 5545, section 3.1).
        let unfolded = text.replace("\r\n ", "");
        let mut rest = unfolded.as_str();
        while let Some(first) = rest.chars().next() {
            let head = rest.get(..36).filter(|head| uuid::Uuid::try_parse(head).is_ok());
            if let Some(id) = head {
                let known = self.ids.iter().position(|known| known == id);
                let place = known.unwrap_or(self.ids.len());
                if known.is_none() {
                    self.ids.push(id.to_owned());
                }
                write!(masked, "(id {place})").unwrap();
                rest = &rest[36..];
            } else if let Some(start) = SEALED.iter().find(|start| rest.starts_with(**start)) {
                write!(masked, "{start}(sealed)").unwrap();
                let of_seal = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_');
                rest = rest[start.len()..].trim_start_matches(of_seal);
            } else {
                masked.push(first);
                rest = &rest[first.len_utf8()..];
            }
        }
        masked
    }
}
