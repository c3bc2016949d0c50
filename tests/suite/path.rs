//! The whole path, as a club goes it: from setting up to the mail that somebody reads, and on to
//! the work that ends the matter.

use domain::mail::MailState;
use jiff::SignedDuration;
use serde_json::{Value, json};
use store::testing::Fresh;

use crate::support::{Club, Kit, Person, SmtpServer, Transcript, on_both};

const LOG_ID: &str = "01950000-0000-7000-8000-000000000001";

#[test]
fn from_an_empty_database_to_one_mail_and_no_second_one() {
    let [on_sqlite, on_postgres] = on_both(walk);
    assert!(on_sqlite.len() > 20, "{} answers", on_sqlite.len());
    let difference = on_sqlite.first_difference(&on_postgres);
    assert!(difference.is_none(), "SQLite and PostgreSQL differ:\n{}", difference.unwrap());
}

fn walk(database: &Fresh) -> Transcript {
    let relay = SmtpServer::start("accept");
    let monday = "2027-03-01T09:00:00Z".parse().unwrap();
    let club = Club::start_at(database, monday, Some(&relay.url));
    let mut seen = Transcript::default();
    let (owner, archer) = (club.owner(), club.archer("Ilse Quillfeather"));
    let me = seen.note("who the owner is", &owner.get("/me"));
    assert_eq!(
        (&me["role"], &me["club_name"]),
        (&json!("owner"), &json!("Bowmen of Invented Hill"))
    );
    seen.note("who the archer is", &archer.get("/me"));

    let kit = put_together(&mut seen, owner, &archer);
    shoot(&mut seen, &club, &archer, &kit);

    let string = seen.note("the string", &owner.get(&format!("/parts/{}", kit.string)));
    assert_eq!(string["wear"], json!({"shots": 522, "days_since_first_fitted": 2}));
    assert_eq!(string["condition"], "due");
    assert_eq!(string["reason"], "wax the string: 522 shots and never waxed; plan 500");
    let due = seen.note("what is due", &owner.get("/due"));
    assert_eq!(due["data"].as_array().unwrap().len(), 1, "{due}");
    assert_eq!(due["data"][0]["part"]["id"], json!(kit.string));
    assert_eq!(due["data"][0]["bow"]["id"], json!(kit.bow));

    remind(&mut seen, &club, &relay, &archer);
    read_as_a_stranger(&club, &relay);

    let waxing = json!({"part_id": kit.string, "task": "waxed", "at": "2027-03-04T08:00:00Z"});
    seen.note("waxing it", &owner.post("/upkeep", &waxing));
    let string = seen.note("waxed", &owner.get(&format!("/parts/{}", kit.string)));
    assert_eq!((&string["condition"], &string["wear"]["shots"]), (&json!("sound"), &json!(522)));
    let due = seen.note("nothing is due", &owner.get("/due"));
    assert_eq!(due["data"], json!([]));

    for day in 1..=2 {
        let swept = club.sweep();
        assert_eq!(swept, json!({"check_maintenance": 0, "deliver_mail": 0}), "day {day}");
        club.clock.advance(SignedDuration::from_hours(24));
    }
    assert_eq!(club.mail_states(), [MailState::Sent]);
    assert_eq!(relay.mails().len(), 1);
    seen
}

/// A bow, its string, and a serving on the string.
fn put_together(seen: &mut Transcript, owner: &Person, archer: &Person) -> Kit {
    let id = |body: Value, name: &str| body[name].as_str().unwrap().to_owned();
    let bow = json!({"name": "Grey recurve", "division": "recurve", "bow_length_in": 68.0,
        "draw_weight_lbf": 36.5, "archer_member_id": archer.id().0});
    let bow = id(seen.note("a bow", &owner.post("/bows", &bow)), "id");
    let string = json!({"kind": "string", "name": "First of 2027", "material": "HMPE",
        "strands": 20, "made_on": "2027-02-27", "unit_cost": 18.25});
    let string = id(seen.note("a string", &owner.post("/parts", &string)), "id");
    let serving = json!({"kind": "center_serving", "name": "Its serving"});
    let serving = id(seen.note("a serving", &owner.post("/parts", &serving)), "id");
    let at = "2027-03-01T08:00:00Z";
    let fitting = json!({"part_id": string, "bow_id": bow, "at": at});
    let string_fitting = id(seen.note("strung", &owner.post("/fittings", &fitting)), "id");
    let fitting = json!({"part_id": serving, "host_part_id": string, "at": at});
    seen.note("served", &owner.post("/fittings", &fitting));
    for task in ["brace_height_set", "nocking_point_set"] {
        let work = json!({"part_id": string, "task": task, "at": at});
        seen.note(task, &owner.post("/upkeep", &work));
    }
    seen.note("the bow", &owner.get(&format!("/bows/{bow}")));
    seen.note("the bows", &owner.get("/bows"));
    seen.note("the parts", &owner.get("/parts"));
    Kit { bow, string, string_fitting, serving }
}

/// Three days of shooting, with everything that a bad connection does to a log.
fn shoot(seen: &mut Transcript, club: &Club, archer: &Person, kit: &Kit) {
    let log = json!({"id": LOG_ID, "bow_id": kit.bow, "at": "2027-03-01T09:55:00+01:00",
        "shots": 72, "kind": "practice", "note": "Windy, from the left"});
    let first = archer.post("/shot-logs", &log);
    assert_eq!(first.status, 201, "{first}");
    let logged = seen.note("72 shots", &first);
    assert_eq!(logged["shot_log"]["at"], "2027-03-01T08:55:00Z");
    assert_eq!(logged["flags"], json!([]));
    let worn: Vec<_> = logged["parts"].as_array().unwrap().iter().collect();
    assert_eq!(worn.len(), 2, "{logged}");
    assert!(worn.iter().all(|part| part["wear"]["shots"] == 72), "{logged}");

    let again = archer.post("/shot-logs", &log);
    assert_eq!(again.status, 200, "{again}");
    seen.note("the same again", &again);
    let mut other = log;
    other["shots"] = json!(73);
    let other = archer.post("/shot-logs", &other);
    other.refuses(422, "/id", "id_taken");
    assert_eq!(Kit::shots(club.owner(), &kit.string), 72);

    club.clock.advance(SignedDuration::from_hours(48));
    let entries =
        [(150, "2027-03-02T17:00:00Z"), (150, "2027-03-03"), (150, "2027-03-03T08:59:00Z")]
            .map(|(shots, at)| json!({"bow_id": kit.bow, "at": at, "shots": shots}));
    let batch = json!({"mode": "atomic", "entries": entries});
    let batch = seen.note("three more", &archer.post("/shot-logs/batch", &batch));
    assert_eq!(batch["parts"].as_array().unwrap().len(), 2, "{batch}");
    seen.note("the logs", &club.owner().get("/shot-logs"));
}

/// The sweep finds it, and the next morning a mail goes out.
fn remind(seen: &mut Transcript, club: &Club, relay: &SmtpServer, archer: &Person) {
    assert_eq!(club.sweep(), json!({"check_maintenance": 1, "deliver_mail": 0}));
    assert_eq!(club.sweep(), json!({"check_maintenance": 0, "deliver_mail": 0}));
    assert_eq!(club.mail_states(), [MailState::Due]);
    let reminders = seen.note("reminders", &archer.get("/reminders"));
    assert_eq!(reminders["data"].as_array().unwrap().len(), 1, "{reminders}");
    assert_eq!(
        (&reminders["data"][0]["state"], &reminders["data"][0]["task"]),
        (&json!("raised"), &json!("wax"))
    );
    club.clock.set("2027-03-04T07:29:59Z".parse().unwrap());
    assert_eq!(club.sweep(), json!({"check_maintenance": 0, "deliver_mail": 0}));
    club.clock.set("2027-03-04T07:30:00Z".parse().unwrap());
    assert_eq!(club.sweep(), json!({"check_maintenance": 0, "deliver_mail": 1}));
    assert_eq!(club.sweep(), json!({"check_maintenance": 0, "deliver_mail": 0}));
    let reminders = seen.note("told", &archer.get("/reminders"));
    assert_eq!(reminders["data"][0]["state"], "sent");
    for mail in relay.mails() {
        seen.note_value("the mail", mail);
    }
    club.clock.set("2027-03-04T08:00:00Z".parse().unwrap());
}

/// What Python's own mail reader makes of it. Headers: RFC 5322 section 3.6, RFC 3834 section 5.
fn read_as_a_stranger(club: &Club, relay: &SmtpServer) {
    let mails = relay.mails();
    let [mail] = mails.as_slice() else { panic!("{mails:#?}") };
    assert_eq!(mail["defects"], json!([]), "{mail:#}");
    assert_eq!(mail["html_problems"], json!([]), "{mail:#}");
    assert_eq!(mail["to"], json!(["Ilse Quillfeather <ilse.quillfeather@club.example>"]));
    assert_eq!(mail["cc"], json!([]));
    assert_eq!(mail["from"], json!(["Bowmen of Invented Hill <bench@tautline.example>"]));
    assert_eq!(mail["subject"], "Grey recurve: wax the string - due, Thu 4 March");
    let id = club.outbox()[0].mail.id;
    assert_eq!(mail["message_id"], json!(format!("<{id}@tautline.example>")));
    assert_eq!(mail["headers"]["Auto-Submitted"], "auto-generated");
    assert_eq!(mail["date"], "2027-03-04T07:30:00+00:00");
    // The work stands in a calendar too, for programs that show one in a mail and for those that open a file.
    let readable = ["multipart/mixed", "multipart/alternative", "text/plain", "text/html"];
    let types = [&readable[..], &["text/calendar", "application/ics"]].concat();
    assert_eq!(mail["content_types"], json!(types));
    for body in ["text", "html"] {
        let words = mail[body].as_str().unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
        for expected in [
            "Grey recurve",
            "First of 2027",
            "522 shots",
            "plan 500",
            "looking at the string before you shoot",
            "After a dry fire",
            "common practice",
            "https://tautline.example",
        ] {
            assert!(words.contains(expected), "{expected:?} is not in the {body}: {words}");
        }
    }
    let envelopes = relay.envelopes();
    assert_eq!(envelopes[0]["mail_from"], "bench@tautline.example");
    assert_eq!(envelopes[0]["rcpt_tos"], json!(["ilse.quillfeather@club.example"]));
}
