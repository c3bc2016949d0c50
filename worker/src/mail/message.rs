//! Puts a letter into a MIME message with the headers that an automatic mail owes its readers.
//! It knows neither what the letter says nor how the message will travel.

use std::time::SystemTime;

use domain::{ids::MailId, members::EmailAddress};
use jiff::Timestamp;
use lettre::{
    Address, Message,
    address::AddressError,
    message::{
        Body, Mailbox, MultiPart, SinglePart,
        header::{
            ContentDisposition, ContentTransferEncoding, ContentType, ContentTypeErr, HeaderName,
            HeaderValue,
        },
    },
};

use super::{Letter, calendar::Part, quote::plain};

/// From whom to whom, when, and which mail it is.
///
/// Names are plain text, not `Name`s: a row may be older than today's checks.
#[derive(Debug, Clone, Copy)]
pub struct Head<'a> {
    /// Which mail; the Message-ID is made of it, so that a second copy can be told as such.
    pub id: MailId,
    /// What the sender is called.
    pub from_name: &'a str,
    /// The address that it comes from and that a relay reports failures to.
    pub from: &'a EmailAddress,
    /// What the recipient is called.
    pub to_name: &'a str,
    /// Where it goes.
    pub to: &'a EmailAddress,
    /// Who gets a copy, if anybody.
    pub copy: Option<(&'a str, &'a EmailAddress)>,
    /// When it was written.
    pub date: Timestamp,
    /// Where this kind of mail is stopped, by one POST (RFC 8058) if that is reached by HTTPS; if it may be.
    pub quiet: Option<&'a str>,
    /// The first mail about the same thing, if this is not it.
    pub first: Option<MailId>,
}

/// Why a letter could not become a message.
#[derive(Debug, thiserror::Error)]
pub enum MessageError {
    /// The mail library knows addresses a little differently.
    #[error("the address {address} cannot be used in a message")]
    Address {
        /// Which address.
        address: String,
        /// Why.
        source: AddressError,
    },
    /// A date that the header cannot express.
    #[error("a message cannot be dated {0}")]
    Date(Timestamp),
    /// Nothing to show in an inbox.
    #[error("a message needs a subject")]
    Subject,
    /// The mail library knows kinds of content a little differently.
    #[error("a part's kind of content cannot be used in a message")]
    ContentType(#[source] ContentTypeErr),
    /// The mail library refused the message.
    #[error("the message cannot be built")]
    Build(#[from] lettre::error::Error),
}

/// Builds the message: plain text and HTML as alternatives, the same bytes each time. A calendar is one
/// more of them, for a mailbox that shows it in its place, and a file besides for one that does not.
///
/// Control characters in names and subject become spaces: the library panics on a line break in a
/// display name, and a line break in a header would be another header.
///
/// # Errors
/// [`MessageError`].
pub fn build(
    letter: &Letter,
    calendar: Option<&Part>,
    head: &Head<'_>,
) -> Result<Message, MessageError> {
    let subject = plain(&letter.subject);
    if subject.is_empty() {
        return Err(MessageError::Subject);
    }
    let from = mailbox(head.from_name, head.from)?;
    let domain = from.email.domain().to_owned();
    let message_id = |id: MailId| format!("<{id}@{domain}>");
    let mut builder = Message::builder().from(from).to(mailbox(head.to_name, head.to)?);
    if let Some((name, address)) = head.copy {
        builder = builder.cc(mailbox(name, address)?);
    }
    if let Some(first) = head.first.filter(|first| *first != head.id) {
        builder = builder.references(message_id(first)).in_reply_to(message_id(first));
    }
    if let Some(url) = head.quiet {
        builder = builder.raw_header(raw("List-Unsubscribe", &format!("<{url}>")));
        // RFC 8058, section 3.1: one click is for an address that is reached by HTTPS.
        if url.starts_with("https://") {
            let one_click = raw("List-Unsubscribe-Post", "List-Unsubscribe=One-Click");
            builder = builder.raw_header(one_click);
        }
    }
    Ok(builder
        .subject(subject)
        .date(date(head.date)?)
        .message_id(Some(message_id(head.id)))
        .raw_header(raw("Auto-Submitted", "auto-generated"))
        .raw_header(raw("X-Auto-Response-Suppress", "All"))
        .raw_header(raw("Content-Language", "en"))
        .multipart(parts(letter, calendar, head.id)?)?)
}

/// What the message is made of.
fn parts(letter: &Letter, calendar: Option<&Part>, id: MailId) -> Result<MultiPart, MessageError> {
    let same = MultiPart::alternative()
        .boundary(format!("part-{id}"))
        .singlepart(part(ContentType::TEXT_PLAIN, &letter.text))
        .singlepart(part(ContentType::TEXT_HTML, &letter.html));
    let Some(Part { method, text }) = calendar else { return Ok(same) };
    // The line breaks of the wire are put in where the part is encoded.
    let text = text.replace("\r\n", "\n");
    let content_type = |text: &str| ContentType::parse(text).map_err(MessageError::ContentType);
    // RFC 6047, section 2.4: the method of the head is that of the body.
    let shown = content_type(&format!("text/calendar; charset=utf-8; method={method}"))?;
    let file = content_type("application/ics; name=\"tautline.ics\"")?;
    let file = SinglePart::builder()
        .header(file)
        .header(ContentDisposition::attachment("tautline.ics"))
        .body(plainly(&text));
    let same = same.singlepart(part(shown, &text));
    Ok(MultiPart::mixed().boundary(format!("mail-{id}")).multipart(same).singlepart(file))
}

fn part(content_type: ContentType, content: &str) -> SinglePart {
    SinglePart::builder().header(content_type).body(plainly(content))
}

/// A part's content, left as it is if it is plain ASCII in lines that may be sent (RFC 5322, section 2.1.1:
/// 998 characters). The library would encode it from 77 on, and the links in it could not be followed
/// from a mail's file.
fn plainly(content: &str) -> Body {
    let fits = content.is_ascii()
        && !content.contains(['\0', '\r'])
        && content.lines().all(|line| line.len() <= 998);
    if fits {
        let on_the_wire = content.replace('\n', "\r\n").into_bytes();
        Body::dangerous_pre_encoded(on_the_wire, ContentTransferEncoding::SevenBit)
    } else {
        Body::new(content.to_owned())
    }
}

fn raw(name: &'static str, value: &str) -> HeaderValue {
    HeaderValue::new(HeaderName::new_from_ascii_str(name), value.to_owned())
}

fn mailbox(name: &str, address: &EmailAddress) -> Result<Mailbox, MessageError> {
    let name = Some(plain(name)).filter(|name| !name.is_empty());
    let address = address.as_str();
    let parsed: Address = address
        .parse()
        .map_err(|source| MessageError::Address { address: address.to_owned(), source })?;
    Ok(Mailbox::new(name, parsed))
}

/// The date as the library wants it; it panics before 1970.
fn date(at: Timestamp) -> Result<SystemTime, MessageError> {
    let system = SystemTime::try_from(at).ok().filter(|_| at >= Timestamp::UNIX_EPOCH);
    system.ok_or(MessageError::Date(at))
}
