//! The calendar that goes with a mail: which days it has, and how it is packed. Whether other programs
//! read it is for the suite, which asks them.

use domain::{
    calendar::Method,
    ids::PartId,
    mail::{Digest, DigestLine, EventNotice, MovedNotice, ToldWork},
    parts::PartKind,
    rules::{Condition, RuleTask},
};
use jiff::civil::date;
use uuid::Uuid;
use worker::mail::calendar::{MOST_ENTRIES, Part, Sender, of_digest, of_event, of_moved};

use crate::{
    letters::{address, bow, digest, letter, line, with_calendar},
    notices::{event, going},
};

const BASE_URL: &str = "https://tautline.example.org";

fn digest_part(digest: &Digest) -> Option<Part> {
    of_digest(digest, &Sender { from: &address("club@example.org"), base_url: BASE_URL })
}

fn event_part(notice: &EventNotice) -> Part {
    let from = address("club@example.org");
    of_event(notice, &Sender { from: &from, base_url: BASE_URL }).unwrap()
}

/// The values of a property, in order, with what was folded in one piece.
fn values(part: &Part, property: &str) -> Vec<String> {
    let text = part.text.replace("\r\n ", "");
    let lines = text.split("\r\n").filter_map(|line| line.split_once(':'));
    let named = lines.filter(|(name, _)| name.split(';').next() == Some(property));
    named.map(|(_, value)| value.to_owned()).collect()
}

#[test]
fn an_event_stands_on_its_days_and_work_on_the_day_by_which_it_is_done() {
    let part = event_part(&event(false, vec![going()]));
    assert_eq!(part.method, Method::Publish);
    assert_eq!(values(&part, "METHOD"), ["PUBLISH"]);
    // Work that has to wait until after the event has no day before it.
    assert_eq!(
        values(&part, "SUMMARY"),
        [
            "Invented Spring Round",
            "Wax the string before Invented Spring Round: Blue bow",
            "Check the nocking point before Invented Spring Round: Blue bow",
        ]
    );
    assert_eq!(values(&part, "DTSTART"), ["20270612", "20270611", "20270611"]);
    assert_eq!(values(&part, "DTEND"), ["20270614", "20270612", "20270612"]);
    assert_eq!(values(&part, "STATUS"), ["CONFIRMED", "TENTATIVE", "TENTATIVE"]);
    // Version 3 of the event; the mail is of 1 June 2027, the day 2708 after 2020-01-01.
    assert_eq!(values(&part, "SEQUENCE"), ["2", "5416", "5416"]);
    let host = |uid: &String| uid.ends_with("@tautline.example.org");
    assert!(values(&part, "UID").iter().all(host), "{part:?}");
    assert_eq!(values(&part, "ORGANIZER"), ["mailto:club@example.org"; 3]);
}

#[test]
fn a_bow_that_two_people_go_with_has_its_work_once() {
    let twice = event_part(&event(true, vec![going(), going()]));
    assert_eq!(values(&twice, "UID"), values(&event_part(&event(true, vec![going()])), "UID"));
}

fn moved(called_off: bool) -> MovedNotice {
    let told = |task, by| ToldWork {
        part: PartId(Uuid::from_u128(5)),
        part_kind: PartKind::Bowstring,
        task,
        by,
    };
    let notice = event(false, Vec::new());
    MovedNotice {
        club: notice.club,
        recipient: notice.recipient,
        event_id: notice.event_id,
        event: notice.event,
        told_on: date(2027, 6, 1),
        told: (date(2027, 6, 12), date(2027, 6, 13)),
        told_works: vec![
            told(RuleTask::Wax, Some(date(2027, 6, 11))),
            told(RuleTask::Change, None),
        ],
        days: (date(2027, 6, 19), date(2027, 6, 20)),
        called_off,
        version: 4,
        changed_at: "2027-06-02T09:00:00Z".parse().unwrap(),
    }
}

#[test]
fn an_event_on_other_days_is_shown_there_and_the_days_of_its_work_are_taken_out() {
    let from = address("club@example.org");
    let sender = Sender { from: &from, base_url: BASE_URL };
    let told = event_part(&event(false, vec![going()]));
    for (called_off, method, state) in
        [(false, Method::Publish, "CONFIRMED"), (true, Method::Cancel, "CANCELLED")]
    {
        let part = of_moved(&moved(called_off), &sender).unwrap();
        assert_eq!((part.method, values(&part, "METHOD")), (method, vec![method.to_string()]));
        assert_eq!(values(&part, "UID"), &values(&told, "UID")[..2]);
        assert_eq!(values(&part, "STATUS"), [state, "CANCELLED"]);
        assert_eq!(values(&part, "DTSTART"), ["20270619", "20270611"]);
        // Each counts for more than what was told before.
        assert_eq!(values(&told, "SEQUENCE")[..2], ["2", "5416"]);
        assert_eq!(values(&part, "SEQUENCE"), ["3", "5417"]);
    }
}

#[test]
fn a_digest_has_its_day_for_what_is_due_and_the_days_of_what_is_expected() {
    let window = Some((date(2027, 6, 4), date(2027, 6, 9)));
    let reason = "do not shoot: dry fire on 2027-05-31".to_owned();
    let stopped = |condition| DigestLine {
        stopped: Some(reason.clone()),
        condition,
        ..line(bow(2, "Green bow"))
    };
    let nearing = DigestLine { condition: Condition::Nearing, window, ..line(bow(1, "Blue bow")) };
    let lines = vec![stopped(Condition::DoNotShoot), stopped(Condition::Due), nearing];
    let part = digest_part(&digest(lines)).unwrap();
    assert_eq!(
        values(&part, "SUMMARY"),
        [
            "DO NOT SHOOT Green bow: inspect it first",
            "Due now: wax the string: Green bow",
            "Wax the string: Blue bow",
        ]
    );
    assert_eq!(values(&part, "DTSTART"), ["20270601", "20270601", "20270604"]);
    assert_eq!(values(&part, "DTEND"), ["20270602", "20270602", "20270610"]);
}

#[test]
fn a_digest_of_nothing_that_has_a_day_has_no_calendar() {
    let nearing = DigestLine { condition: Condition::Nearing, ..line(bow(1, "Blue bow")) };
    assert_eq!(digest_part(&digest(vec![nearing])), None);
}

#[test]
fn a_long_digest_has_a_calendar_of_its_most_urgent_work() {
    let lines = (0..200).map(|n| line(bow(n, &format!("Bow {n}")))).collect();
    let part = digest_part(&digest(lines)).unwrap();
    let summaries = values(&part, "SUMMARY");
    assert_eq!(summaries.len(), MOST_ENTRIES);
    assert!(summaries[0].ends_with(": Bow 0") && summaries[59].ends_with(": Bow 59"));
}

/// Every part of a message, by the type of its content, with what it holds.
fn parts(message: &str) -> Vec<(String, String)> {
    let pieces = message.split("Content-Type: ").skip(1).filter_map(|piece| {
        let (head, body) = piece.split_once("\r\n\r\n")?;
        let body = body.split("\r\n--").next()?;
        let kind = head.replace("\r\n ", " ");
        Some((kind.split("\r\n").next()?.to_owned(), format!("{body}\r\n")))
    });
    pieces.collect()
}

#[test]
fn the_calendar_is_the_last_alternative_and_a_file_besides() {
    let part = digest_part(&digest(vec![line(bow(1, "Blue bow"))])).unwrap();
    let built = |part: &Part| {
        let message = with_calendar(&letter(), Some(part), "Invented Archers", "Ada").unwrap();
        String::from_utf8(message.formatted()).unwrap()
    };
    let message = built(&part);
    let parts = parts(&message);
    let kinds: Vec<&str> = parts.iter().map(|(kind, _)| kind.as_str()).collect();
    assert_eq!(
        kinds.iter().map(|kind| kind.split(';').next()).collect::<Vec<_>>(),
        [
            Some("multipart/mixed"),
            Some("multipart/alternative"),
            Some("text/plain"),
            Some("text/html"),
            Some("text/calendar"),
            Some("application/ics"),
        ]
    );
    assert_eq!(kinds[4], "text/calendar; charset=utf-8; method=PUBLISH");
    assert_eq!(parts[4].1.trim_end(), part.text.trim_end());
    assert_eq!(parts[5].1.trim_end(), part.text.trim_end());
    assert!(message.contains("Content-Disposition: attachment; filename=\"tautline.ics\"\r\n"));
    assert_eq!(built(&part), message);
}
