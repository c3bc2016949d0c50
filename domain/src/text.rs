//! Text that people typed, checked once at the edge.
//!
//! A name goes into subjects, headers and tables, so it may hold any letter but nothing that
//! starts a new line or turns the direction of what follows.

use std::fmt;

/// Why a text was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    /// Nothing but white space.
    #[error("must not be empty")]
    Empty,
    /// More characters than the field takes.
    #[error("must have at most {max} characters")]
    TooLong {
        /// The most it may have.
        max: usize,
    },
    /// A control character, a line break in a name, or a mark that reverses the text's direction.
    #[error("must not contain control characters or line breaks")]
    ControlCharacter,
}

/// A single line of text: the name of a club, person, bow or part, or a material.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Name(String);

impl Name {
    /// The most characters a name may have.
    pub const MAX_CHARS: usize = 200;

    /// Takes a name as typed: outer white space is dropped, nothing else is changed.
    ///
    /// # Errors
    /// Empty, longer than [`Name::MAX_CHARS`], or with a control character.
    ///
    /// # Example
    /// ```
    /// use domain::text::{Name, TextError};
    /// assert_eq!(Name::parse(" Blue bow ")?.as_str(), "Blue bow");
    /// assert_eq!(Name::parse("Blue\r\nBcc: x"), Err(TextError::ControlCharacter));
    /// # Ok::<(), TextError>(())
    /// ```
    pub fn parse(typed: &str) -> Result<Self, TextError> {
        let text = typed.trim();
        check(text, Self::MAX_CHARS, |_| false)?;
        if text.is_empty() { Err(TextError::Empty) } else { Ok(Self(text.to_owned())) }
    }

    /// A text of the program's own, which needs no checking.
    pub(crate) fn of_ours(text: &'static str) -> Self {
        Self(text.to_owned())
    }

    /// The name as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Free text of one or more lines; may be empty.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Note(String);

impl Note {
    /// The most characters a note may have.
    pub const MAX_CHARS: usize = 2_000;

    /// Takes a note as typed; line breaks and tabs are allowed.
    ///
    /// # Errors
    /// Longer than [`Note::MAX_CHARS`], or with another control character.
    pub fn parse(typed: &str) -> Result<Self, TextError> {
        let text = typed.trim();
        check(text, Self::MAX_CHARS, |c| matches!(c, '\n' | '\r' | '\t'))?;
        Ok(Self(text.to_owned()))
    }

    /// The note as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// Marks that reorder the text around them (Unicode Standard Annex 9, section 2), the two line
/// separators, and what takes no room at all, by which two names could look the same. The joiner
/// and the non-joiner (U+200D, U+200C) stay: names and emoji are written with them.
fn is_layout_mark(c: char) -> bool {
    matches!(
        c,
        '\u{200E}' | '\u{200F}' | '\u{061C}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}'
            | '\u{2028}' | '\u{2029}'
            | '\u{200B}' | '\u{2060}' | '\u{FEFF}'
    )
}

fn check(text: &str, max: usize, allowed: impl Fn(char) -> bool) -> Result<(), TextError> {
    if text.chars().any(|c| (c.is_control() || is_layout_mark(c)) && !allowed(c)) {
        return Err(TextError::ControlCharacter);
    }
    if text.chars().count() > max { Err(TextError::TooLong { max }) } else { Ok(()) }
}

/// Words with a capital at their beginning.
///
/// # Example
/// ```
/// use domain::text::capitalised;
/// assert_eq!(capitalised("wax the string"), "Wax the string");
/// assert_eq!(capitalised(""), "");
/// ```
#[must_use]
pub fn capitalised(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_keeps_every_letter_and_refuses_what_breaks_a_line() {
        for good in ["Ægir", "弓", "O'Neil-García III", "🏹", &"x".repeat(200)] {
            assert_eq!(Name::parse(good).map(|n| n.0), Ok(good.to_owned()));
        }
        for bad in ["a\nb", "a\r\nb", "a\0b", "a\u{202E}b", "a\u{2028}b", "a\tb"] {
            assert_eq!(Name::parse(bad), Err(TextError::ControlCharacter), "{bad:?}");
        }
        assert_eq!(Name::parse("  \t "), Err(TextError::Empty));
        assert_eq!(Name::parse(&"x".repeat(201)), Err(TextError::TooLong { max: 200 }));
    }

    #[test]
    fn what_cannot_be_seen_is_refused_and_what_joins_letters_is_not() {
        for hidden in ['\u{200E}', '\u{200F}', '\u{061C}', '\u{200B}', '\u{FEFF}', '\u{2060}'] {
            let text = format!("Blue{hidden}bow");
            assert_eq!(Name::parse(&text), Err(TextError::ControlCharacter), "{text:?}");
            assert_eq!(Note::parse(&text), Err(TextError::ControlCharacter), "{text:?}");
        }
        for joined in ["\u{645}\u{6CC}\u{200C}\u{62E}\u{648}\u{627}\u{647}\u{645}", "👩\u{200D}🚀"]
        {
            assert_eq!(Name::parse(joined).map(|n| n.0), Ok(joined.to_owned()));
        }
    }

    #[test]
    fn a_note_may_have_lines_but_no_other_control_character() {
        assert_eq!(Note::parse("two\nlines").map(|n| n.0), Ok("two\nlines".to_owned()));
        assert_eq!(Note::parse("bell\u{7}"), Err(TextError::ControlCharacter));
        assert_eq!(Note::parse(&"y".repeat(2_001)), Err(TextError::TooLong { max: 2_000 }));
    }
}
