//! Fittings that were entered late, wrong or by mistake, and work that was never done: put right through
//! HTTP, with what that makes of wear, stops and reminders.

use domain::mail::MailState;
use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{Answer, Club, Kit, Person, on_both};

/// A day before the present of a test, when kits are strung.
const STRUNG: &str = "2027-02-28T09:00:00Z";
const SHOT: &str = "2027-02-27T15:00:00Z";
const NEXT_DAY: SignedDuration = SignedDuration::from_hours(24);

fn shoot(by: &Person, bow: &str, at: &str, shots: u32) {
    by.post("/shot-logs", &json!({"bow_id": bow, "at": at, "shots": shots})).expect(201);
}

fn shots(by: &Person, kit: &Kit) -> [Value; 2] {
    [Kit::shots(by, &kit.string), Kit::shots(by, &kit.serving)]
}

fn condition(by: &Person, part: &str) -> Value {
    by.get(&format!("/parts/{part}")).expect(200)["condition"].clone()
}

/// What the rule of waxing says of a string.
fn waxing(by: &Person, string: &str) -> Value {
    let string = by.get(&format!("/parts/{string}")).expect(200);
    let rules = string["rules"].as_array().unwrap();
    rules.iter().find(|rule| rule["task"] == "wax").unwrap()["condition"].clone()
}

/// The fitting of a part that has one.
fn fitting_of(by: &Person, part: &str) -> String {
    let found = by.get(&format!("/fittings?part_id={part}")).expect(200);
    format!("/fittings/{}", found["data"][0]["id"].as_str().unwrap())
}

#[test]
fn a_fitting_is_dated_back_in_its_version_and_counts_what_was_shot() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        shoot(owner, &kit.bow, SHOT, 72);
        let path = format!("/fittings/{}", kit.string_fitting);
        let read = owner.get(&path);
        let body = read.expect(200);
        assert_eq!((read.header("etag"), &body["version"]), ("\"1\"", &json!(1)));
        assert_eq!(shots(owner, &kit), [json!(0), json!(0)]);

        let back = json!({"from": "2027-02-27T09:00:00Z"});
        owner.patch(&path, "", &back).problem(428);
        owner.patch(&path, "\"2\"", &back).problem(412);
        let answer = owner.patch(&path, "\"1\"", &back);
        let moved = answer.expect(200);
        assert_eq!((answer.header("etag"), &moved["version"]), ("\"2\"", &json!(2)));
        assert_eq!((&moved["from"], &moved["to"]), (&back["from"], &Value::Null));
        // The serving was not on the string yet.
        assert_eq!(shots(owner, &kit), [json!(72), json!(0)]);
        owner.patch(&fitting_of(owner, &kit.serving), "\"1\"", &back).expect(200);
        assert_eq!(shots(owner, &kit), [json!(72), json!(72)]);
        // What changes nothing makes no version.
        let again = owner.patch(&path, "\"2\"", &back);
        assert_eq!((again.expect(200), again.header("etag")), (moved, "\"2\""));

        let over = json!({"to": "2027-02-27T12:00:00Z"});
        assert_eq!(owner.patch(&path, "\"2\"", &over).expect(200)["to"], over["to"]);
        assert_eq!(shots(owner, &kit), [json!(0), json!(0)]);
        owner.patch(&path, "\"3\"", &json!({"to": null})).expect(200);
        assert_eq!(shots(owner, &kit), [json!(72), json!(72)]);

        owner.delete(&path, "").problem(428);
        owner.delete(&path, "\"3\"").problem(412);
        assert_eq!(owner.delete(&path, "\"4\"").status, 204);
        owner.get(&path).problem(404);
        owner.delete(&path, "*").problem(404);
        owner.patch(&path, "*", &over).problem(404);
        assert_eq!(shots(owner, &kit), [json!(0), json!(0)]);
        let changes = owner.get(&format!("/audit?subject_id={}", kit.string_fitting)).expect(200);
        let versions: Vec<Value> = changes["data"]
            .as_array()
            .unwrap()
            .iter()
            .map(|one| {
                json!([one["operation"], one["before"]["version"], one["bow_id"] == kit.bow])
            })
            .collect();
        assert_eq!(
            versions,
            [
                json!(["remove_fitting", 4, true]),
                json!(["change_fitting", 3, true]),
                json!(["change_fitting", 2, true]),
                json!(["change_fitting", 1, true]),
                json!(["fit_part", null, true]),
            ]
        );
    });
}

#[test]
fn a_fitting_is_not_moved_to_where_it_cannot_be() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let path = format!("/fittings/{}", kit.string_fitting);
        let off = json!({"at": "2027-02-28T20:00:00Z"});
        let removal = format!("{path}/removal");
        let too_early = json!({"at": "2027-02-28T08:00:00Z"});
        owner.post(&removal, &too_early).refuses(422, "/at", "before_fitted");
        owner.post(&removal, &off).expect(200);
        let spare = json!({"kind": "string", "name": "Spare", "made_on": "2027-02-20"});
        let spare = owner.post("/parts", &spare).expect(201)["id"].clone();
        let on = json!({"part_id": spare, "bow_id": kit.bow, "at": "2027-02-28T21:00:00Z"});
        let next = owner.post("/fittings", &on).expect(201);
        let next = format!("/fittings/{}", next["id"].as_str().unwrap());
        let refused = |path: &str, change: Value| -> Answer { owner.patch(path, "*", &change) };
        for (change, pointer, code) in [
            (json!({"to": "2027-02-28T09:00:00Z"}), "/to", "before_fitted"),
            (json!({"from": "2027-02-28T20:00:00Z"}), "/from", "before_fitted"),
            (json!({"from": "2027-03-01T09:20:00Z"}), "/from", "in_future"),
            (json!({"to": "2027-03-01T09:20:00Z"}), "/to", "in_future"),
            (json!({"from": "2027-02-28"}), "/from", "no_offset"),
            (json!({"to": "soon"}), "/to", "not_a_time"),
            (json!({"to": "2027-02-28T09:00:00"}), "/to", "no_offset"),
            (json!({"from": null}), "/from", "wrong_type"),
            (json!({"to": 5}), "/to", "wrong_type"),
            (json!({"bow_id": kit.bow}), "/bow_id", "unknown_field"),
        ] {
            refused(&path, change).refuses(422, pointer, code);
        }
        refused(&path, json!({"to": null})).refuses(409, "", "host_occupied");
        refused(&path, json!({"to": "2027-02-28T21:30:00Z"})).refuses(409, "", "host_occupied");
        refused(&next, json!({"from": "2027-02-28T19:00:00Z"})).refuses(409, "", "host_occupied");
        refused(&next, json!({"from": "2027-02-19T12:00:00Z"})).refuses(
            422,
            "/from",
            "before_made",
        );
        // A part that is retired ends its stays by then; a serving goes on no string that was over.
        let end = json!({"at": "2027-02-28T20:00:00Z", "end": "worn", "reason": "fuzzy"});
        owner.post(&format!("/parts/{}/retirement", kit.string), &end).expect(200);
        refused(&path, json!({"to": "2027-02-28T20:30:00Z"})).refuses(409, "", "part_retired");
        let serving = fitting_of(owner, &kit.serving);
        refused(&serving, json!({"from": "2027-02-28T20:00:00Z"})).refuses(409, "", "part_retired");
        refused(&path, json!({"to": "2027-02-28T19:00:00Z"})).expect(200);
        refused(&serving, json!({"from": "2027-02-28T19:59:00Z"})).expect(200);
    });
}

#[test]
fn nobody_puts_right_what_hung_on_a_bow_out_of_their_reach() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (ana, ben) = (club.archer("Ana Invented"), club.archer("Ben Invented"));
        let (hers, his) = (Kit::of(&club, owner, Some(ana.id())), Kit::bow(owner, Some(ben.id())));
        // Her string goes to his bow: its past is still about hers.
        let path = format!("/fittings/{}", hers.string_fitting);
        let off = json!({"at": "2027-02-28T20:00:00Z"});
        ana.post(&format!("{path}/removal"), &off).expect(200);
        let on = json!({"part_id": hers.string, "bow_id": his, "at": "2027-02-28T21:00:00Z"});
        owner.post("/fittings", &on).expect(201);
        ben.get(&path).expect(200);
        ben.patch(&path, "*", &json!({"to": "2027-02-28T19:00:00Z"})).problem(403);
        ben.delete(&path, "*").problem(403);
        ana.patch(&path, "*", &json!({"to": "2027-02-28T19:00:00Z"})).problem(403);
        let stranger = club.neighbour();
        stranger.get(&path).problem(404);
        stranger.patch(&path, "*", &json!({})).problem(404);
        stranger.delete(&path, "*").problem(404);
    });
}

#[test]
fn a_reminder_follows_a_fitting_that_is_dated_back_and_is_not_sent_twice() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Ana Invented"));
        let kit = Kit::of(&club, owner, Some(archer.id()));
        Kit::measured(owner, &kit.string, STRUNG);
        shoot(owner, &kit.bow, SHOT, 520);
        assert_eq!(club.sweep(), json!({"check_maintenance": 0, "deliver_mail": 0}));
        let path = format!("/fittings/{}", kit.string_fitting);
        let (back, forth) = (json!({"from": "2027-02-27T09:00:00Z"}), json!({"from": STRUNG}));
        owner.patch(&path, "*", &back).expect(200);
        assert_eq!(condition(owner, &kit.string), "due");
        assert_eq!(club.sweep()["check_maintenance"], 1);

        // Untrue by the time it would go out.
        owner.patch(&path, "*", &forth).expect(200);
        club.clock.advance(NEXT_DAY);
        club.sweep();
        assert_eq!(club.mail_states(), [MailState::Cancelled]);
        assert_eq!(club.mails(), [] as [Value; 0]);

        // True again: raised, and sent once.
        owner.patch(&path, "*", &back).expect(200);
        assert_eq!(club.sweep()["check_maintenance"], 1);
        club.clock.advance(NEXT_DAY);
        assert_eq!(club.sweep()["deliver_mail"], 1);
        assert_eq!(club.mails().len(), 1);
        // Dated once more, for another reason: the work is as due as it was, and said already.
        for from in ["2027-02-26T09:00:00Z", "2027-02-25T09:00:00Z"] {
            owner.patch(&path, "*", &json!({"from": from})).expect(200);
            assert_eq!(condition(owner, &kit.string), "due");
            club.sweep();
            club.clock.advance(NEXT_DAY);
            club.sweep();
        }
        let waxing = "Wax the string";
        let told = club.mails();
        let told = told.iter().filter(|mail| mail["text"].as_str().unwrap().contains(waxing));
        assert_eq!(told.count(), 1, "{:?}", club.mails());
    });
}

#[test]
fn work_that_was_never_done_is_taken_back() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Ana Invented"));
        let kit = Kit::of(&club, owner, Some(archer.id()));
        shoot(owner, &kit.bow, "2027-02-28T10:00:00Z", 520);
        assert_eq!(waxing(owner, &kit.string), "due");
        let waxed = json!({"part_id": kit.string, "task": "waxed", "at": "2027-03-01T08:00:00Z"});
        let answer = archer.post("/upkeep", &waxed);
        let work = answer.expect(201);
        let path = answer.header("location").strip_prefix("/api/v1").unwrap().to_owned();
        let read = archer.get(&path);
        let body = read.expect(200);
        assert_eq!((read.header("etag"), &body["id"]), ("\"1\"", &work["id"]));
        assert_eq!(waxing(owner, &kit.string), "sound");
        archer.delete(&path, "").problem(428);
        archer.delete(&path, "\"2\"").problem(412);
        assert_eq!(archer.delete(&path, "\"1\"").status, 204);
        assert_eq!(waxing(owner, &kit.string), "due");
        archer.get(&path).problem(404);
        archer.delete(&path, "*").problem(404);
        let record = owner.get(&format!("/audit?subject_id={}", work["id"].as_str().unwrap()));
        let record = record.expect(200)["data"][0].clone();
        assert_eq!(record["operation"], "remove_upkeep");
        assert_eq!((&record["before"], &record["after"]), (&body, &Value::Null));

        // Somebody else's, and what came with a new serving.
        let by_owner = owner.post("/upkeep", &waxed).expect(201)["id"].clone();
        let by_owner = format!("/upkeep/{}", by_owner.as_str().unwrap());
        archer.delete(&by_owner, "*").problem(403);
        club.neighbour().delete(&by_owner, "*").problem(404);
        let served =
            json!({"part_id": kit.serving, "task": "re_served", "at": "2027-03-01T08:00:00Z"});
        let served = owner.post("/upkeep", &served).expect(201)["id"].clone();
        let served = format!("/upkeep/{}", served.as_str().unwrap());
        owner.delete(&served, "*").refuses(409, "", "goes_with_fittings");
        owner.get(&served).expect(200);
    });
}

#[test]
fn taking_an_inspection_back_stops_again_and_an_archer_lifts_nothing_by_it() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Ana Invented"));
        let kit = Kit::of(&club, owner, Some(archer.id()));
        let inspect = |by: &Person, at: &str, grade: i64, note: &str| {
            let work = json!({"part_id": kit.string, "task": "inspected", "at": at, "note": note,
                "findings": [{"finding": "cut_strand", "grade": grade}]});
            let work = by.post("/upkeep", &work).expect(201);
            format!("/upkeep/{}", work["id"].as_str().unwrap())
        };
        let bad = inspect(&archer, "2027-03-01T07:00:00Z", 3, "by the loop");
        assert_eq!(condition(owner, &kit.string), "do_not_shoot");
        archer.delete(&bad, "*").refuses(409, "", "would_lift_stop");
        assert_eq!(condition(owner, &kit.string), "do_not_shoot");
        let cleared = inspect(owner, "2027-03-01T08:00:00Z", 0, "it was a loose fibre");
        assert_ne!(condition(owner, &kit.string), "do_not_shoot");
        archer.delete(&cleared, "*").problem(403);
        assert_eq!(owner.delete(&cleared, "*").status, 204);
        assert_eq!(condition(owner, &kit.string), "do_not_shoot");
        // Only an inspection with a reason lifts it, whoever it is.
        owner.delete(&bad, "*").refuses(409, "", "would_lift_stop");
        inspect(owner, "2027-03-01T08:00:00Z", 0, "it was a loose fibre");
        assert_eq!(owner.delete(&bad, "*").status, 204);
        assert_ne!(condition(owner, &kit.string), "do_not_shoot");
    });
}
