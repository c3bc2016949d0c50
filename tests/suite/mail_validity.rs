//! Every mail is one that other programs read without a fault: the message by Python's own `email`, its
//! page by html-validate, its calendar by two readers of RFC 5545 that have to agree.

use std::{collections::BTreeSet, fs};

use domain::mail::{MailKind, MailState};
use jiff::{SignedDuration, civil::date};
use serde_json::{Value, json};

use crate::support::{
    Club, Kit, Person, Program, Scratch, html_problems, on_both, read_calendars, read_mails,
};

/// Looks at mails as strangers would, and returns the calendar of each that has one, by its subject.
#[track_caller]
fn check(mails: &[Value]) -> Vec<(String, Value)> {
    assert!(!mails.is_empty(), "there is no mail to look at");
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    for mail in mails {
        let found = (&mail["defects"], &mail["html_problems"]);
        assert_eq!(found, (&json!([]), &json!([])), "{}", mail["subject"]);
    }
    let pages: Vec<String> = mails.iter().map(|mail| text(&mail["html"])).collect();
    for (mail, problems) in mails.iter().zip(html_problems(&pages)) {
        assert_eq!(problems, json!([]), "{}: {}", mail["subject"], mail["html"]);
    }
    let with_calendar: Vec<&Value> =
        mails.iter().filter(|mail| mail["calendars"] != json!([])).collect();
    let texts: Vec<String> = with_calendar.iter().map(|mail| calendar_of(mail)).collect();
    let read = read_calendars(&texts);
    for (mail, calendar) in with_calendar.iter().zip(&read) {
        // RFC 6047, section 2.4: the method of the head is that of the body.
        assert_eq!(mail["calendars"][0]["method"], calendar["method"], "{}", mail["subject"]);
    }
    with_calendar.iter().map(|mail| text(&mail["subject"])).zip(read).collect()
}

/// The text of a mail's calendar, which is in it twice: to be shown, and as a file.
#[track_caller]
fn calendar_of(mail: &Value) -> String {
    let types = &mail["content_types"];
    let parts = ["multipart/mixed", "multipart/alternative", "text/plain", "text/html"];
    assert_eq!(*types, json!([&parts[..], &["text/calendar", "application/ics"]].concat()));
    let [shown, file] = mail["calendars"].as_array().unwrap().as_slice() else {
        panic!("{:#}", mail["calendars"])
    };
    assert_eq!((&shown["charset"], &shown["filename"]), (&json!("utf-8"), &Value::Null));
    assert_eq!(file["filename"], "tautline.ics");
    assert_eq!(mail["attachments"], json!(["tautline.ics"]));
    assert_eq!(shown["text"], file["text"]);
    shown["text"].as_str().unwrap().to_owned()
}

#[test]
fn every_mail_of_the_demo_is_read_by_strangers() {
    let folder = Scratch::new();
    let arguments = ["demo", "--once", "--today", "2027-03-14"];
    let finished = Program::run(folder.path(), &[], &arguments);
    assert_eq!(finished.code, Some(0), "{finished:?}");
    let mails = read_mails(&folder.path().join("tautline-demo/mail"));
    let calendars = check(&mails);
    let entries: usize =
        calendars.iter().map(|(_, one)| one["entries"].as_array().unwrap().len()).sum();
    println!("{} mails, {} calendars, {entries} entries", mails.len(), calendars.len());
    assert!(!calendars.is_empty());
}

#[test]
fn a_sample_of_every_kind_of_mail_is_read_by_strangers() {
    let folder = Scratch::new();
    let arguments = ["mail", "preview", "all", "--to", "samples"];
    let finished = Program::run(folder.path(), &[], &arguments);
    assert_eq!(finished.code, Some(0), "{finished:?}");
    let samples = folder.path().join("samples");
    let mails = read_mails(&samples);
    assert_eq!(mails.len(), MailKind::ALL.len());
    check(&mails);
    for kind in MailKind::ALL {
        let sent = fs::read_to_string(samples.join(format!("{kind}.eml"))).unwrap();
        let days =
            [MailKind::Digest, MailKind::Event, MailKind::Squad, MailKind::Moved].contains(kind);
        assert_eq!(sent.contains("text/calendar"), days, "{kind}");
    }
}

const DAY: SignedDuration = SignedDuration::from_hours(24);

/// An archer with a bow that is shot, whose string is almost over, and a coach.
struct Scene {
    archer: Person,
    kit: Kit,
    event: String,
}

impl Scene {
    fn of(club: &Club) -> Self {
        let owner = club.owner();
        owner.patch("/club", "*", &json!({"nudge_after_days": 5})).expect(200);
        let (archer, coach) = (club.archer("Ada Invented"), club.coach("Cleo Invented"));
        for (person, name) in [(&archer, "Ådá \"Ö\", Invented"), (&coach, "Cleo <Invented>; 弓")]
        {
            owner
                .patch(&format!("/members/{}", person.id().0), "*", &json!({"name": name}))
                .expect(200);
        }
        let squad = json!({"name": "Thursdays", "coach_member_ids": [coach.id().0],
            "archer_member_ids": [archer.id().0]});
        owner.post("/squads", &squad).expect(201);
        club.clock.set("2027-02-01T09:00:00Z".parse().unwrap());
        let kit = Kit::of(club, owner, Some(archer.id()));
        let named = json!({"name": "Blåer; bow, \"the\" <first> \u{1f3f9}"});
        owner.patch(&format!("/bows/{}", kit.bow), "*", &named).expect(200);
        club.clock.set("2027-03-01T09:00:00Z".parse().unwrap());
        for n in 0..28 {
            let on = date(2027, 2, 1) + jiff::Span::new().days(n);
            let log = json!({"bow_id": kit.bow, "at": on.to_string(), "shots": 500});
            owner.post("/shot-logs", &log).expect(201);
        }
        let event = json!({"name": "Invented; Round, \"one\"", "starts_on": "2027-03-20",
            "ends_on": "2027-03-21", "priority": "regular", "arrows_expected": 72});
        let event = owner.post("/events", &event).expect(201);
        let event = format!("/events/{}", event["id"].as_str().unwrap());
        let going = json!({"entries": [{"member_id": archer.id().0, "bow_id": kit.bow}]});
        owner.put(&format!("{event}/entries"), "*", &going).expect(200);
        Self { archer, kit, event }
    }
}

/// Days go by, each with two rounds of the worker.
fn days(club: &Club, count: usize) {
    for _ in 0..count {
        club.clock.advance(DAY);
        club.sweep();
        club.sweep();
    }
}

/// Everything happens that is mailed of; the kinds of mail that went out.
fn everything_happens(club: &Club) -> BTreeSet<&'static str> {
    let (scene, owner) = (Scene::of(club), club.owner());
    let invited = json!({"name": "Runa Invented", "email": "runa@club.example", "role": "archer"});
    owner.post("/members", &invited).expect(201);
    club.anonymous().post("/auth/reset", &json!({"email": "maren@club.example"})).expect(202);
    club.sweep();
    days(club, 8);
    let incident = json!({"bow_id": scene.kit.bow, "kind": "dry_fire", "at": club.now()});
    scene.archer.post("/incidents", &incident).expect(201);
    let moved = json!({"starts_on": "2027-03-27", "ends_on": "2027-03-28"});
    owner.patch(&scene.event, "*", &moved).expect(200);
    club.sweep();
    days(club, 7);
    let off = owner.delete(&scene.event, "*");
    assert!((200..300).contains(&off.status), "{off}");
    club.sweep();
    days(club, 2);
    let outbox = club.outbox();
    let sent = outbox.iter().filter(|posted| posted.mail.state == MailState::Sent);
    sent.map(|posted| posted.mail.kind.as_str()).collect()
}

#[test]
fn every_kind_of_mail_of_a_club_is_read_by_strangers() {
    on_both(|database| {
        let club = Club::start_at(database, "2027-03-01T09:00:00Z".parse().unwrap(), None);
        let kinds = everything_happens(&club);
        let expected = MailKind::ALL.iter().filter(|kind| **kind != MailKind::Quieted);
        let expected: BTreeSet<&str> = expected.map(|kind| kind.as_str()).collect();
        assert_eq!(kinds, expected);
        let calendars = check(&club.mails());
        let methods: BTreeSet<&str> =
            calendars.iter().map(|(_, one)| one["method"].as_str().unwrap()).collect();
        assert_eq!(methods, BTreeSet::from(["CANCEL", "PUBLISH"]));
        let all: Vec<&Value> =
            calendars.iter().flat_map(|(_, one)| one["entries"].as_array().unwrap()).collect();
        let states: BTreeSet<&str> =
            all.iter().map(|one| one["status"].as_str().unwrap()).collect();
        assert_eq!(states, BTreeSet::from(["CANCELLED", "CONFIRMED", "TENTATIVE"]));
        // Names come through whatever is in them.
        let said = |summary: &str| all.iter().any(|one| one["summary"] == summary);
        assert!(said("Invented; Round, \"one\""), "{all:#?}");
        let bow = "wax the string: Blåer; bow, \"the\" <first> \u{1f3f9}";
        assert!(said(&format!("Overdue now: {bow}")), "{all:#?}");
    });
}

#[test]
fn an_event_that_is_called_off_is_taken_out_by_an_entry_that_counts_for_more() {
    on_both(|database| {
        let club = Club::start_at(database, "2027-03-01T09:00:00Z".parse().unwrap(), None);
        everything_happens(&club);
        let calendars = check(&club.mails());
        let of_event = |one: &&Value| one["uid"].as_str().unwrap().starts_with("event-");
        let mut sequences: Vec<(i64, String)> = Vec::new();
        for (_, calendar) in &calendars {
            for entry in calendar["entries"].as_array().unwrap().iter().filter(of_event) {
                let sequence = entry["sequence"].as_i64().unwrap();
                sequences.push((sequence, entry["status"].as_str().unwrap().to_owned()));
            }
        }
        let last = sequences.iter().max().unwrap().0;
        for (sequence, status) in &sequences {
            assert_eq!(status == "CANCELLED", *sequence == last, "{sequences:?}");
        }
        // And so is each day by which work was wanted for it.
        let work = |one: &&Value| one["uid"].as_str().unwrap().starts_with("before-");
        let told: Vec<&Value> = calendars
            .iter()
            .flat_map(|(_, one)| one["entries"].as_array().unwrap())
            .filter(work)
            .collect();
        let uids: BTreeSet<&str> = told.iter().map(|one| one["uid"].as_str().unwrap()).collect();
        assert!(!uids.is_empty());
        for uid in uids {
            let of_uid = told.iter().filter(|one| one["uid"] == uid);
            let last = of_uid.max_by_key(|one| {
                (one["sequence"].as_i64(), one["stamp"].as_str().map(str::to_owned))
            });
            assert_eq!(last.unwrap()["status"], "CANCELLED", "{uid}: {told:#?}");
        }
    });
}
