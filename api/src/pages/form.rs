//! What a form sends: names and values, as a browser writes them and as the one-click unsubscribing of mail
//! programs does (RFC 8058, section 3.2), which may use either media type.

use std::time::Duration;

use actix_web::{HttpMessage, HttpRequest, web};

use crate::{body::collect, error::ApiError};

/// The most bytes of a form. The longest password has 256 characters of up to four bytes, and each byte may
/// be written as three.
const MOST_BYTES: usize = 4 * 1024;
const TIME_LIMIT: Duration = Duration::from_secs(10);

/// The fields of a form, in the order in which they were sent.
pub(super) struct Form(Vec<(String, String)>);

impl Form {
    /// Reads it. Nothing at all is a form without fields.
    pub(super) async fn read(request: &HttpRequest, body: web::Payload) -> Result<Self, ApiError> {
        let bytes = collect(body.into_inner(), MOST_BYTES, TIME_LIMIT).await?;
        let kind = request.content_type().to_ascii_lowercase();
        let text =
            String::from_utf8(bytes).map_err(|error| ApiError::Malformed(error.to_string()))?;
        let fields = match kind.as_str() {
            "application/x-www-form-urlencoded" => urlencoded(&text),
            "multipart/form-data" => multipart(&text),
            _ if text.is_empty() => Some(Vec::new()),
            _ => return Err(ApiError::NotForm),
        };
        let unreadable = || ApiError::Malformed("the form cannot be read".to_owned());
        fields.map(Self).ok_or_else(unreadable)
    }

    /// The value of a field, if it was sent once.
    pub(super) fn get(&self, name: &str) -> Option<&str> {
        let mut found = self.0.iter().filter(|(field, _)| field == name);
        let (_, value) = found.next()?;
        found.next().is_none().then_some(value.as_str())
    }

    /// Passes a form with no field but these, each once.
    pub(super) fn only(&self, known: &[&str]) -> Result<(), ApiError> {
        let fits = |field: &str| known.contains(&field) && self.get(field).is_some();
        if self.0.iter().all(|(field, _)| fits(field)) { Ok(()) } else { Err(unknown()) }
    }
}

/// A form that says something else than its page offers.
pub(super) fn unknown() -> ApiError {
    let detail = "this is not what the page offers; open the link in the mail again";
    ApiError::Invalid(vec![crate::fields::FieldError::new("", "unknown_answer", detail)])
}

fn urlencoded(text: &str) -> Option<Vec<(String, String)>> {
    if !is_utf8(text) {
        return None;
    }
    web::Query::<Vec<(String, String)>>::from_query(text).ok().map(web::Query::into_inner)
}

/// Whether the bytes that are written as `%` and two digits are UTF-8 with what stands around them. What is
/// not would be read as marks of a fault, and a password of those be taken for what was typed.
fn is_utf8(text: &str) -> bool {
    let (mut bytes, mut rest) = (Vec::with_capacity(text.len()), text.as_bytes());
    while let [first, after @ ..] = rest {
        let digits = after.get(..2).filter(|_| *first == b'%');
        let digits = digits.and_then(|two| std::str::from_utf8(two).ok());
        let written = digits.and_then(|two| u8::from_str_radix(two, 16).ok());
        bytes.push(written.unwrap_or(*first));
        rest = if written.is_some() { after.get(2..).unwrap_or_default() } else { after };
    }
    String::from_utf8(bytes).is_ok()
}

/// The fields of a multipart body (RFC 7578). Its delimiter is its first line, as RFC 2046, section 5.1.1,
/// lets it be where nothing stands before the first part.
fn multipart(text: &str) -> Option<Vec<(String, String)>> {
    let (delimiter, rest) = text.split_once("\r\n")?;
    if !delimiter.starts_with("--") || delimiter.len() < 3 {
        return None;
    }
    let mut fields = Vec::new();
    let inner = rest.rsplit_once(&format!("{delimiter}--"))?.0;
    for part in inner.split(&format!("{delimiter}\r\n")) {
        let (head, value) = part.split_once("\r\n\r\n")?;
        fields.push((field_name(head)?, value.strip_suffix("\r\n")?.to_owned()));
    }
    Some(fields)
}

/// The name in the head of a part.
fn field_name(head: &str) -> Option<String> {
    let of_field = |line: &&str| line.to_ascii_lowercase().starts_with("content-disposition:");
    let line = head.split("\r\n").find(of_field)?;
    let name = line.split(';').find_map(|one| one.trim().strip_prefix("name="))?;
    Some(name.trim_matches('"').to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        pairs.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect()
    }

    #[test]
    fn a_browsers_form_and_a_mail_programs_are_read() {
        let one_click = Some(fields(&[("List-Unsubscribe", "One-Click")]));
        assert_eq!(urlencoded("List-Unsubscribe=One-Click"), one_click);
        // The example of RFC 8058, section 8.2, has this shape.
        let body = "--FormBoundaryjWmhtjORrn\r\nContent-Disposition: form-data; \
                    name=\"List-Unsubscribe\"\r\n\r\nOne-Click\r\n--FormBoundaryjWmhtjORrn--\r\n";
        assert_eq!(multipart(body), one_click);
        let two = "--x\r\ncontent-disposition: form-data; name=a\r\n\r\n1\r\n--x\r\n\
                   Content-Type: text/plain\r\nContent-Disposition: form-data; name=\"b\"\r\n\r\n\
                   2\r\n3\r\n--x--\r\n";
        assert_eq!(multipart(two), Some(fields(&[("a", "1"), ("b", "2\r\n3")])));
        assert_eq!(
            urlencoded("when=two_days_ago&x=%20y"),
            Some(fields(&[("when", "two_days_ago"), ("x", " y")]))
        );
        assert_eq!(urlencoded(""), Some(fields(&[])));
        assert_eq!(urlencoded("a=%C3%A9%"), Some(fields(&[("a", "\u{e9}%")])));
        assert_eq!(urlencoded("a=%E9"), None, "that is Latin-1");
    }

    #[test]
    fn what_is_no_form_is_none() {
        for text in ["", "x", "--", "--x\r\n", "--x\r\n--x--", "--x\r\nname=a\r\n\r\n1\r\n--x--"] {
            assert_eq!(multipart(text), None, "{text:?}");
        }
    }

    #[test]
    fn a_field_that_was_sent_twice_is_none() {
        let form = Form(fields(&[("a", "1"), ("b", "2"), ("a", "3")]));
        assert_eq!((form.get("a"), form.get("b"), form.get("c")), (None, Some("2"), None));
        assert!(form.only(&["a", "b"]).is_err(), "twice");
        let form = Form(fields(&[("a", "1"), ("b", "2")]));
        assert!(form.only(&["a", "b"]).is_ok() && form.only(&["a"]).is_err());
    }
}
