//! Digests, letters and messages that the tests start from.

use domain::{
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    calendar::Work,
    ids::{BowId, MailId, MemberId, PartId, ReminderId, RuleId},
    mail::{Act, Digest, DigestLine},
    members::EmailAddress,
    parts::PartKind,
    rules::{Condition, RuleTask},
    text::Name,
};
use jiff::{Timestamp, civil::date};
use uuid::Uuid;
use worker::mail::{Letter, Links, calendar::Part, message};

pub(crate) fn name(text: &str) -> Name {
    Name::parse(text).unwrap()
}

pub(crate) fn address(text: &str) -> EmailAddress {
    EmailAddress::parse(text).unwrap()
}

/// A bow that is told from others by `number`.
pub(crate) fn bow(number: u128, called: &str) -> Bow {
    Bow {
        id: BowId(Uuid::from_u128(number)),
        name: name(called),
        division: Division::Recurve,
        length: BowLengthIn::new(68.0).unwrap(),
        draw_weight: DrawWeightLbf::new(38.0).unwrap(),
        owner: Some(MemberId(Uuid::from_u128(900))),
        archer: Some(MemberId(Uuid::from_u128(900))),
        keeper: None,
        version: 1,
        created_at: Timestamp::UNIX_EPOCH,
    }
}

/// Waxing is due on a bow of the recipient's own.
pub(crate) fn line(bow: Bow) -> DigestLine {
    // A string of that bow's own: no other bow has it.
    let string = PartId(Uuid::from_u128(3_100 + bow.id.0.as_u128()));
    DigestLine {
        reminder: ReminderId(Uuid::from_u128(77)),
        acts: vec![Act::Done, Act::Snooze, Act::NotMine],
        bow,
        archer: Some(name("Ada Example")),
        stopped: None,
        part_kind: PartKind::Bowstring,
        part: name("String 2 of 2027"),
        task: RuleTask::Wax,
        condition: Condition::Due,
        reason: "550 shots since last waxed; plan 500".to_owned(),
        work: Work {
            part: string,
            rule: RuleId(Uuid::from_u128(51)),
            cycle: "2027-05-01T10:00:00Z".to_owned(),
        },
        window: None,
    }
}

pub(crate) fn digest(lines: Vec<DigestLine>) -> Digest {
    Digest {
        club: name("Invented Archers of Nowhere"),
        recipient: name("Ada Example"),
        on: date(2027, 6, 1),
        lines,
    }
}

pub(crate) fn letter() -> Letter {
    Letter {
        subject: "Blue bow: wax the string - due, Tue 1 June".to_owned(),
        text: "Hello Ada,\n.\n..two dots\nwax the string\n".to_owned(),
        html: "<p>Hello Ada, wax the string</p>\n".to_owned(),
    }
}

/// The head of a message from `club@example.org`; the names are as given.
pub(crate) fn message(
    letter: &Letter,
    from_name: &str,
    to_name: &str,
) -> Result<lettre::Message, message::MessageError> {
    with_calendar(letter, None, from_name, to_name)
}

/// The same with a calendar.
pub(crate) fn with_calendar(
    letter: &Letter,
    calendar: Option<&Part>,
    from_name: &str,
    to_name: &str,
) -> Result<lettre::Message, message::MessageError> {
    let quiet = Some("https://tautline.example.org/quiet/TOKEN");
    stopped_at(quiet, letter, calendar, (from_name, to_name))
}

/// The same with another address at which its kind is stopped, or none.
pub(crate) fn stopped_at(
    quiet: Option<&str>,
    letter: &Letter,
    calendar: Option<&Part>,
    (from_name, to_name): (&str, &str),
) -> Result<lettre::Message, message::MessageError> {
    let head = message::Head {
        id: MailId(Uuid::from_u128(7)),
        from_name,
        from: &address("club@example.org"),
        to_name,
        to: &address("ada@example.org"),
        copy: None,
        date: "2027-06-01T05:30:00Z".parse().unwrap(),
        quiet,
        first: Some(MailId(Uuid::from_u128(6))),
    };
    message::build(letter, calendar, &head)
}

/// The links of a mail that may be answered and stopped. What is sealed in them is for others to test.
pub(crate) fn links(base_url: &str) -> Links<'_> {
    let act: &'static (dyn Fn(ReminderId, Act) -> String + Sync) =
        &|reminder, act| format!("{}-{act}", reminder.0.as_u128());
    Links::below(base_url).unwrap().with_answers(act).with_quiet(Some("TOKEN".to_owned()))
}
