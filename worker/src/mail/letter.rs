//! What every mail comes down to before it is a message: a subject and the same words twice.
//! It knows no addresses and no headers.

use super::wrap::wrap;

/// A written mail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Letter {
    /// One line.
    pub subject: String,
    /// All of it as plain text; complete without the other part.
    pub text: String,
    /// The same as HTML.
    pub html: String,
}

/// The largest HTML part. Some mailboxes cut what is longer, and phones load it slowly.
const HTML_BYTES: usize = 30_000;

/// The HTML part with as many of its lines as fit: what is written of the first `count` of them, of all
/// if that is small enough, else of fewer.
pub(super) fn as_much_as_fits(
    all: usize,
    write: impl Fn(usize) -> Result<String, RenderError>,
) -> Result<String, RenderError> {
    let mut count = all;
    loop {
        let html = write(count)?;
        if html.len() <= HTML_BYTES || count == 0 {
            return Ok(html);
        }
        count = count * 3 / 4;
    }
}

impl Letter {
    /// The same letter with a sentence before everything else, in both parts.
    #[must_use]
    pub fn prefaced(self, sentence: &str) -> Self {
        let text = format!("{}\n{}", wrap(sentence), self.text);
        let html = match self.html.split_once("<body") {
            Some((head, rest)) => match rest.split_once('>') {
                Some((attributes, body)) => {
                    let sentence = sentence.replace('&', "&amp;").replace('<', "&lt;");
                    format!("{head}<body{attributes}>\n<p>{sentence}</p>{body}")
                }
                None => self.html,
            },
            None => self.html,
        };
        Self { text, html, ..self }
    }
}

/// Why a mail could not be written.
#[derive(Debug, thiserror::Error)]
pub enum RenderError {
    /// A digest without work says nothing.
    #[error("a digest needs at least one piece of work")]
    Empty,
    /// The links would lead nowhere, or somewhere else.
    #[error("the base URL must start with http:// or https:// and hold no white space")]
    BaseUrl,
    /// A template failed.
    #[error("the mail's template failed")]
    Template(#[from] askama::Error),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_many_lines_are_written_as_fit_and_none_if_not_even_one_does() {
        let lines = |each: usize| move |count: usize| Ok("x".repeat(count * each));
        let written = |all, each| as_much_as_fits(all, lines(each)).unwrap().len() / each;
        assert_eq!(written(300, 100), 300);
        assert_eq!(written(301, 100), 225);
        assert_eq!(written(1, HTML_BYTES + 1), 0);
        // What is around the lines may be too large by itself: there is nothing more to leave out.
        let html = as_much_as_fits(8, |count| Ok("x".repeat(HTML_BYTES + 1 + count))).unwrap();
        assert_eq!(html.len(), HTML_BYTES + 1);
        assert!(as_much_as_fits(8, |_count| Err(RenderError::Empty)).is_err());
    }
}
