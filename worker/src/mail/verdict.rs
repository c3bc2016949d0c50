//! What has become of a message, judged by how far a talk with a relay came and what ended it. It
//! opens no connection and knows no outbox.

use std::fmt;

use lettre::{
    Address,
    transport::smtp::{
        Error,
        response::{Response, Severity},
    },
};

use super::{SendError, quote::quote};

/// How far a talk has come (RFC 5321, section 4.1.1).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Step {
    Connect,
    Encrypt,
    SignIn,
    Sender,
    Recipient,
    Data,
    Message,
}

/// Why a talk broke off.
pub(super) enum Trouble {
    /// A refusal, or the connection failed.
    Failed(Error),
    /// An answer that has no place at this step.
    OutOfPlace(Response),
    /// So many seconds went by.
    TooSlow(f64),
    /// The message would have reached nobody, or not yet somebody who is to have it.
    Refused(Vec<Refusal>),
}

/// A recipient that a relay did not take.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Whose address.
    pub address: String,
    /// What the relay said; one line of at most 500 characters.
    pub answer: String,
    /// Whether it will never take it.
    pub for_good: bool,
    /// Whether it said that there is no such mailbox.
    pub no_mailbox: bool,
}

impl Refusal {
    /// A refusal of a recipient; nothing, if it is not about the recipient.
    pub(super) fn of(address: &Address, error: &Error) -> Option<Self> {
        let code = error.status().map(u16::from).filter(|code| !is_about_the_talk(*code))?;
        let answer = quote(&words(error));
        let for_good = code >= 500;
        let no_mailbox = for_good && says_no_mailbox(&answer);
        Some(Self { address: address.to_string(), answer, for_good, no_mailbox })
    }

    /// Several on one line; one alone needs no name where nobody else was meant.
    pub(super) fn words(refused: &[Self], meant: usize) -> String {
        if let ([one], 1) = (refused, meant) {
            return one.answer.clone();
        }
        let named: Vec<String> =
            refused.iter().map(|one| format!("{}: {}", one.address, one.answer)).collect();
        named.join("; ")
    }
}

/// Whether a refusal for good says that the address leads nowhere: RFC 3463, section 3.2 (5.1.1 to 5.1.3
/// and 5.1.6), and RFC 7505 (5.1.10). Other 5.1.x are about the sender. A bare 550 may as well be a
/// policy of the relay (RFC 5321, section 4.2.3).
fn says_no_mailbox(answer: &str) -> bool {
    let enhanced = answer.split_whitespace().nth(1).unwrap_or_default();
    ["5.1.1", "5.1.2", "5.1.3", "5.1.6", "5.1.10"].contains(&enhanced)
}

/// Whether an answer is about the talk at whatever step it comes: the relay closes it (421, RFC 5321,
/// section 3.8), or wants to be signed in to first (530, RFC 4954, section 6).
const fn is_about_the_talk(code: u16) -> bool {
    matches!(code, 421 | 530)
}

/// Passes a 2xx answer; the library also lets 3xx pass.
pub(super) fn completed(response: Response) -> Result<Response, Trouble> {
    if response.code().severity == Severity::PositiveCompletion {
        Ok(response)
    } else {
        Err(Trouble::OutOfPlace(response))
    }
}

/// What has become of a message, from where the talk broke off and why.
///
/// Before MAIL, whatever goes wrong is about the connection, the certificate or our password, and so is
/// a line that breaks before the message is on its way: other messages would fare no better, and all
/// of them wait. From MAIL on, an answer is about this message.
pub(super) fn judge(step: Step, trouble: Trouble, meant: usize) -> SendError {
    let words = quote(&match &trouble {
        Trouble::Refused(refused) => format!("{step}: {}", Refusal::words(refused, meant)),
        other => format!("{step}: {other}"),
    });
    let code = match &trouble {
        Trouble::Failed(error) => error.status().map(u16::from),
        _ => None,
    };
    match (trouble, code) {
        (Trouble::Refused(recipients), _) => SendError::Refused { words, recipients },
        _ if step < Step::Sender => SendError::Unreachable(words),
        (_, Some(code)) if is_about_the_talk(code) => SendError::Unreachable(words),
        (_, Some(code)) if code >= 500 => SendError::Dead(words),
        (_, Some(_)) => SendError::Retry(words),
        _ if step == Step::Message => SendError::Uncertain(words),
        (Trouble::OutOfPlace(_), None) => SendError::Retry(words),
        (Trouble::Failed(_) | Trouble::TooSlow(_), None) => SendError::Unreachable(words),
    }
}

/// A relay's answer on one line.
pub(super) fn said(response: &Response) -> String {
    let lines: Vec<&str> = response.message().collect();
    quote(&format!("{} {}", response.code(), lines.join(" ")))
}

/// What a relay or the library said of a failure.
pub(super) fn words(error: &Error) -> String {
    match (error.status(), std::error::Error::source(error)) {
        (Some(code), Some(answer)) => format!("{code} {answer}"),
        _ => error.to_string(),
    }
}

impl From<Error> for Trouble {
    fn from(error: Error) -> Self {
        Self::Failed(error)
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Failed(error) => f.write_str(&words(error)),
            Self::OutOfPlace(response) => write!(f, "unexpected answer {}", said(response)),
            Self::TooSlow(seconds) => write!(f, "no answer within {seconds} s"),
            Self::Refused(refused) => f.write_str(&Refusal::words(refused, usize::MAX)),
        }
    }
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Connect => "connecting",
            Self::Encrypt => "STARTTLS",
            Self::SignIn => "AUTH",
            Self::Sender => "MAIL FROM",
            Self::Recipient => "RCPT TO",
            Self::Data => "DATA",
            Self::Message => "after the message",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_an_answer_about_the_recipient_s_mailbox_says_that_there_is_none() {
        for (answer, expected) in [
            ("550 5.1.1 no such user", true),
            ("553 5.1.3 bad address", true),
            ("556 5.1.10 takes no mail", true),
            ("550 5.1.8 sender's domain is unknown", false),
            ("550 5.7.1 policy", false),
            ("550 no such user", false),
            ("550 5.1.11", false),
            ("550", false),
        ] {
            assert_eq!(says_no_mailbox(answer), expected, "{answer}");
        }
    }
}
