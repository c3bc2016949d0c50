//! What every mail comes down to before it is a message: a subject and the same words twice.
//! It knows no addresses and no headers.

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
