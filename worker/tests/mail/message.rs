//! The message as bytes, taken apart by hand after RFC 5322 (header fields, section 2.2) and
//! RFC 2046 (multipart, section 5.1).

use domain::ids::MailId;
use jiff::Timestamp;
use uuid::Uuid;
use worker::mail::{
    Letter,
    digest::render,
    message::{Head, MessageError, build},
};

use crate::letters::{address, bow, digest, letter, line, links, message, stopped_at};

/// Header fields, unfolded, in order; and the body.
fn parse(bytes: &[u8]) -> (Vec<(String, String)>, String) {
    let text = String::from_utf8(bytes.to_vec()).unwrap();
    assert!(text.is_ascii(), "a relay without 8BITMIME takes ASCII only");
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count(), "bare LF");
    assert_eq!(text.matches('\r').count(), text.matches("\r\n").count(), "bare CR");
    // RFC 5322, section 2.1.1.
    assert!(text.split("\r\n").all(|line| line.len() <= 998));
    let (head, body) = text.split_once("\r\n\r\n").unwrap();
    let unfolded = head.replace("\r\n ", " ").replace("\r\n\t", " ");
    let fields = unfolded.split("\r\n").map(|field| {
        let (name, value) = field.split_once(": ").unwrap();
        (name.to_owned(), value.to_owned())
    });
    (fields.collect(), body.to_owned())
}

fn field<'a>(fields: &'a [(String, String)], name: &str) -> &'a str {
    let found: Vec<_> = fields.iter().filter(|(n, _)| n.eq_ignore_ascii_case(name)).collect();
    assert_eq!(found.len(), 1, "{name} occurs once in {fields:?}");
    &found[0].1
}

#[test]
fn a_message_has_the_headers_of_an_automatic_mail() {
    let message = message(&letter(), "Invented Archers", "Ada Example").unwrap();
    let (fields, _) = parse(&message.formatted());
    for (name, value) in [
        ("From", "\"Invented Archers\" <club@example.org>"),
        ("To", "\"Ada Example\" <ada@example.org>"),
        ("Subject", "Blue bow: wax the string - due, Tue 1 June"),
        ("Date", "Tue, 01 Jun 2027 05:30:00 +0000"),
        ("Message-ID", "<00000000-0000-0000-0000-000000000007@example.org>"),
        ("Auto-Submitted", "auto-generated"),
        ("X-Auto-Response-Suppress", "All"),
        ("References", "<00000000-0000-0000-0000-000000000006@example.org>"),
        ("In-Reply-To", "<00000000-0000-0000-0000-000000000006@example.org>"),
        ("List-Unsubscribe", "<https://tautline.example.org/quiet/TOKEN>"),
        ("List-Unsubscribe-Post", "List-Unsubscribe=One-Click"),
        ("Content-Language", "en"),
        ("MIME-Version", "1.0"),
    ] {
        assert_eq!(field(&fields, name), value);
    }
    let envelope = message.envelope();
    assert_eq!(envelope.from().unwrap().to_string(), "club@example.org");
    assert_eq!(
        envelope.to().iter().map(ToString::to_string).collect::<Vec<_>>(),
        ["ada@example.org"]
    );
}

#[test]
fn one_click_stops_a_mail_only_where_it_travels_by_https() {
    for (quiet, one_click) in [
        (Some("https://tautline.example.org/quiet/TOKEN"), true),
        (Some("http://192.0.2.7:8484/quiet/TOKEN"), false),
        (None, false),
    ] {
        let names = ("Invented Archers", "Ada Example");
        let (fields, _) = parse(&stopped_at(quiet, &letter(), None, names).unwrap().formatted());
        let all = |name: &str| {
            let of_name = fields.iter().filter(|(field, _)| field == name);
            of_name.map(|(_, value)| value.clone()).collect::<Vec<_>>()
        };
        let link: Vec<String> = quiet.iter().map(|url| format!("<{url}>")).collect();
        assert_eq!(all("List-Unsubscribe"), link);
        let post = if one_click { &["List-Unsubscribe=One-Click"][..] } else { &[] };
        assert_eq!(all("List-Unsubscribe-Post"), post);
    }
}

#[test]
fn the_two_parts_are_alternatives_with_the_better_one_last() {
    let message = message(&letter(), "Invented Archers", "Ada Example").unwrap();
    let (fields, body) = parse(&message.formatted());
    let kind = field(&fields, "Content-Type");
    assert!(kind.starts_with("multipart/alternative;"), "{kind}");
    let (_, boundary) = kind.split_once("boundary=\"").unwrap();
    let delimiter = format!("--{}", boundary.split('"').next().unwrap());
    let parts: Vec<&str> = body.split(&delimiter).collect();
    assert_eq!((parts.len(), parts[3].trim()), (4, "--"));
    for (part, kind, content) in [
        (parts[1], "Content-Type: text/plain; charset=utf-8", letter().text),
        (parts[2], "Content-Type: text/html; charset=utf-8", letter().html),
    ] {
        assert!(part.contains(kind), "{part}");
        let (_, got) = part.split_once("\r\n\r\n").unwrap();
        assert_eq!(got.trim_end(), content.replace('\n', "\r\n").trim_end());
    }
}

#[test]
fn the_same_mail_is_the_same_bytes_each_time() {
    let bytes = || message(&letter(), "Invented Archers", "Ada Example").unwrap().formatted();
    assert_eq!(bytes(), bytes());
}

#[test]
fn the_text_of_a_digest_can_be_read_in_the_file_itself() {
    let digest = digest(vec![line(bow(1, "Blue bow"))]);
    let letter = render(&digest, &links("https://tautline.example.org")).unwrap();
    let (_, body) = parse(&message(&letter, "Invented Archers", "Ada").unwrap().formatted());
    assert!(body.contains(&letter.text.replace('\n', "\r\n")), "{body}");
    assert!(body.contains("Content-Transfer-Encoding: 7bit"), "{body}");
}

#[test]
fn letters_outside_ascii_arrive_encoded() {
    let letter = Letter {
        subject: "弓 Bögen: wax".to_owned(),
        text: "弓 ä\n".to_owned(),
        html: format!("<p>{}</p>", "ä".repeat(2_000)),
    };
    let (fields, _) = parse(&message(&letter, "Bögen", "Ægir").unwrap().formatted());
    assert!(field(&fields, "Subject").starts_with("=?utf-8?"));
    assert_eq!(field(&fields, "To"), "=?utf-8?b?w4ZnaXI=?= <ada@example.org>");
}

#[test]
fn a_line_break_in_a_name_or_subject_makes_no_header_and_no_panic() {
    let breaks = ["\r\n", "\n", "\r", "\0", "\u{85}", "\u{2028}", "\u{202e}", "\r\n\r\n", "\u{7f}"];
    for cut in breaks {
        let evil = format!("Ada{cut}Bcc: eve@example.org");
        let letter = Letter { subject: evil.clone(), ..letter() };
        let message = message(&letter, &evil, &evil).unwrap();
        let (fields, _) = parse(&message.formatted());
        assert!(fields.iter().all(|(name, _)| name != "Bcc"), "{cut:?}: {fields:?}");
        // "Ada Bcc: eve@example.org" as one word of RFC 2047.
        let encoded = "=?utf-8?b?QWRhIEJjYzogZXZlQGV4YW1wbGUub3Jn?=";
        assert_eq!(field(&fields, "To"), format!("{encoded} <ada@example.org>"));
        assert_eq!(message.envelope().to().len(), 1);
    }
}

#[test]
fn odd_names_neither_panic_nor_break_the_address() {
    let odd = ["", " ", "\r\n", "\"", "\\", "a\"b\\c", "<x@y.zz>", "a,b;c", "é\"é", "=?utf-8?b??="];
    for name in odd.map(str::to_owned).into_iter().chain([
        "x".repeat(10_000),
        "弓".repeat(10_000),
        "\" ".repeat(5_000),
    ]) {
        let letter = Letter { subject: format!("S {name}"), ..letter() };
        let message = message(&letter, &name, &name).unwrap();
        let text = String::from_utf8(message.formatted()).unwrap();
        let (head, _) = text.split_once("\r\n\r\n").unwrap();
        assert!(head.contains("ada@example.org"), "{name:.20}");
        assert_eq!(message.envelope().to()[0].to_string(), "ada@example.org");
    }
}

#[test]
fn what_cannot_be_a_message_is_an_error() {
    let no_subject = Letter { subject: "\r\n".to_owned(), ..letter() };
    assert!(matches!(message(&no_subject, "a", "b"), Err(MessageError::Subject)));
    let (from, to) = (address("club@example.org"), address("ada@example.org"));
    let head = Head {
        id: MailId(Uuid::nil()),
        from_name: "a",
        from: &from,
        to_name: "b",
        to: &to,
        copy: None,
        date: Timestamp::UNIX_EPOCH,
        quiet: None,
        first: None,
    };
    assert!(build(&letter(), None, &head).is_ok());
    let date = Timestamp::from_second(-1).unwrap();
    assert!(matches!(build(&letter(), None, &Head { date, ..head }), Err(MessageError::Date(_))));
    assert!(build(&letter(), None, &Head { date: Timestamp::MAX, ..head }).is_ok());
}
