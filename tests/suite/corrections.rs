//! Corrections of logs through HTTP: by whom, of which version, and what they make of the parts.

use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

const AT: &str = "2027-03-01T08:30:00Z";

/// Logs shots; the log's address.
#[track_caller]
fn logged(by: &Person, bow: &str, shots: u32) -> String {
    let log = by.post("/shot-logs", &json!({"bow_id": bow, "at": AT, "shots": shots})).expect(201);
    format!("/shot-logs/{}", log["shot_log"]["id"].as_str().unwrap())
}

fn shots(by: &Person, kits: [&Kit; 2]) -> [Value; 2] {
    kits.map(|kit| Kit::shots(by, &kit.string))
}

/// The shots of each part of an answer, by its kind and id.
fn counted(answer: &Value, part: &str) -> Value {
    let parts = answer["parts"].as_array().unwrap();
    let part = parts.iter().find(|one| one["id"] == part).unwrap();
    part["wear"]["shots"].clone()
}

#[test]
fn a_log_is_read_corrected_and_made_void() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (blue, red) = (Kit::of(&club, owner, None), Kit::of(&club, owner, None));
        let body = json!({"bow_id": blue.bow, "at": AT, "shots": 72, "note": "windy"});
        let answer = owner.post("/shot-logs", &body);
        let log = answer.expect(201)["shot_log"].clone();
        let path = format!("/shot-logs/{}", log["id"].as_str().unwrap());
        assert_eq!(answer.header("location"), format!("/api/v1{path}"));
        assert_eq!(answer.header("etag"), "\"1\"");
        let shown = owner.get(&path);
        assert_eq!((shown.expect(200), shown.header("etag")), (log.clone(), "\"1\""));

        let change = json!({"bow_id": red.bow, "shots": 60, "kind": "scoring", "note": null,
            "at": "2027-03-01T08:00:00Z"});
        owner.patch(&path, "", &change).problem(428);
        owner.patch(&path, "\"2\"", &change).problem(412);
        let answer = owner.patch(&path, "\"1\"", &change);
        let corrected = answer.expect(200);
        assert_eq!(answer.header("etag"), "\"2\"");
        let mut expected = log.clone();
        for (field, value) in [
            ("bow_id", json!(red.bow)),
            ("shots", json!(60)),
            ("kind", json!("scoring")),
            ("note", json!("")),
            ("at", json!("2027-03-01T08:00:00Z")),
        ] {
            expected[field] = value;
        }
        assert_eq!(corrected["shot_log"], expected);
        assert_eq!(corrected["parts"].as_array().unwrap().len(), 4);
        assert_eq!(counted(&corrected, &blue.string), 0);
        assert_eq!(counted(&corrected, &red.serving), 60);
        assert_eq!(corrected["flags"], json!([]));
        assert_eq!(shots(owner, [&blue, &red]), [json!(0), json!(60)]);
        assert_eq!(owner.get(&path).expect(200), expected);

        // Sent again, the log is the same one and stands as corrected.
        let mut again = body;
        again["id"] = log["id"].clone();
        let answer = owner.post("/shot-logs", &again);
        assert_eq!((&answer.expect(200)["shot_log"], answer.header("etag")), (&expected, "\"2\""));

        owner.delete(&path, "").problem(428);
        owner.delete(&path, "\"1\"").problem(412);
        let void = owner.delete(&path, "\"2\"").expect(200);
        assert_eq!((&void["shot_log"], &void["flags"]), (&expected, &json!(["void"])));
        assert_eq!(counted(&void, &red.string), 0);
        owner.get(&path).problem(404);
        owner.patch(&path, "*", &json!({"shots": 1})).problem(404);
        owner.delete(&path, "*").problem(404);
        assert_eq!(owner.get("/shot-logs").expect(200)["data"], json!([]));

        // A phone that sends it once more does not bring it back.
        let answer = owner.post("/shot-logs", &again).expect(200);
        assert_eq!((&answer["flags"], &answer["parts"]), (&json!(["void"]), &json!([])));
        let batch = json!({"mode": "atomic", "entries": [again]});
        let result = &owner.post("/shot-logs/batch", &batch).expect(200)["results"][0];
        assert_eq!((&result["outcome"], &result["flags"]), (&json!("again"), &json!(["void"])));
        assert_eq!(shots(owner, [&blue, &red]), [json!(0), json!(0)]);
    });
}

#[test]
fn what_is_not_given_stays_and_a_correction_of_nothing_is_none() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (kit, bare) = (Kit::of(&club, owner, None), Kit::bow(owner, None));
        let path = logged(owner, &kit.bow, 72);
        let before = owner.get(&path).expect(200);
        for nothing in [json!({}), json!({"shots": 72, "kind": "practice", "at": AT})] {
            let answer = owner.patch(&path, "\"1\"", &nothing);
            assert_eq!(
                (&answer.expect(200)["shot_log"], answer.header("etag")),
                (&before, "\"1\"")
            );
        }
        let entries = "SELECT CAST(COUNT(*) AS TEXT) AS text FROM shot_logs";
        assert_eq!(database.texts(entries), ["1"]);

        let more = owner.patch(&path, "\"1\"", &json!({"shots": 600})).expect(200);
        assert_eq!(more["flags"], json!(["unusually_many_shots"]));
        let moved = owner.patch(&path, "*", &json!({"bow_id": bare})).expect(200);
        assert_eq!(moved["flags"], json!(["no_string_fitted", "unusually_many_shots"]));
        assert_eq!(
            (counted(&moved, &kit.string), moved["parts"][2].clone()),
            (json!(0), json!(null))
        );
        let day = owner.patch(&path, "*", &json!({"bow_id": kit.bow, "at": "2027-02-28"}));
        let day = day.expect(200);
        // Strung yesterday at nine in the morning; noon in Lisbon is noon UTC in winter.
        assert_eq!(day["shot_log"]["at"], "2027-02-28T12:00:00Z");
        assert!(day["flags"].as_array().unwrap().contains(&json!("fitting_changed_that_day")));
        assert_eq!(database.texts(entries), ["4"]);
    });
}

#[test]
fn a_correction_that_cannot_be_is_refused_and_changes_nothing() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, stranger) = (club.owner(), club.neighbour());
        let kit = Kit::of(&club, owner, None);
        let theirs = Kit::bow(&stranger, None);
        let path = logged(owner, &kit.bow, 72);
        let before = owner.get(&path).expect(200);
        for (change, pointer, code) in [
            (json!({"shots": 0}), "/shots", "too_few"),
            (json!({"shots": -60}), "/shots", "too_few"),
            (json!({"shots": 2_001}), "/shots", "too_many"),
            (json!({"shots": null}), "/shots", "wrong_type"),
            (json!({"shots": "60"}), "/shots", "wrong_type"),
            (json!({"kind": "fun"}), "/kind", "unknown_word"),
            (json!({"at": "2027-03-01T09:30:00Z"}), "/at", "in_future"),
            (json!({"at": "2027-03-01T08:30:00"}), "/at", "no_offset"),
            (json!({"at": "yesterday"}), "/at", "not_a_date"),
            (json!({"at": null}), "/at", "wrong_type"),
            (json!({"bow_id": null}), "/bow_id", "wrong_type"),
            (json!({"note": "x".repeat(2_001)}), "/note", "too_long"),
            (json!({"id": "01950000-0000-7000-8000-000000000001"}), "/id", "unknown_field"),
            (
                json!({"entered_by_member_id": owner.id().0}),
                "/entered_by_member_id",
                "unknown_field",
            ),
        ] {
            owner.patch(&path, "\"1\"", &change).refuses(422, pointer, code);
        }
        owner.patch(&path, "\"1\"", &json!({"bow_id": theirs})).problem(404);
        stranger.get(&path).problem(404);
        stranger.patch(&path, "*", &json!({"shots": 1})).problem(404);
        stranger.delete(&path, "*").problem(404);
        let read = owner.get(&path);
        assert_eq!((read.expect(200), read.header("etag")), (before, "\"1\""));
        assert_eq!(Kit::shots(owner, &kit.string), 72);
    });
}

#[test]
fn a_log_is_corrected_by_who_entered_it_their_coach_and_owners() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach, other) =
            (club.owner(), club.coach("Ferin Oakstave"), club.coach("Runa Birchfold"));
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let squad = json!({"name": "Thursdays", "coach_member_ids": [coach.id().0],
            "archer_member_ids": [tobin.id().0]});
        owner.post("/squads", &squad).expect(201);
        let own = Kit::of(&club, owner, Some(tobin.id()));
        let hers = Kit::of(&club, owner, Some(ilse.id()));
        let mine = logged(&tobin, &own.bow, 10);
        let by_coach = logged(&coach, &own.bow, 20);

        let change = json!({"shots": 11});
        for stranger in [&ilse, &other] {
            stranger.get(&mine).problem(403);
            stranger.patch(&mine, "*", &change).problem(403);
            stranger.delete(&mine, "*").problem(403);
        }
        // One may see what a coach entered for one's bow, but it is not one's own to correct.
        tobin.get(&by_coach).expect(200);
        tobin.patch(&by_coach, "*", &change).problem(403);
        tobin.delete(&by_coach, "*").problem(403);
        // Nor may a log be moved to a bow that is out of reach.
        for person in [&tobin, &coach] {
            person.patch(&mine, "*", &json!({"bow_id": hers.bow})).problem(403);
        }
        assert_eq!(Kit::shots(owner, &own.string), 30);

        for (n, person) in [&tobin, &coach, owner].into_iter().enumerate() {
            let corrected = person.patch(&mine, "*", &json!({"shots": n + 100})).expect(200);
            // Whoever corrects it, it was entered by whoever entered it.
            assert_eq!(corrected["shot_log"]["entered_by_member_id"], json!(tobin.id().0));
        }
        tobin.delete(&mine, "\"4\"").expect(200);
        assert_eq!(Kit::shots(owner, &own.string), 20);
    });
}

#[test]
fn everybody_lists_the_logs_of_the_bows_in_their_reach() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let squad = json!({"name": "Thursdays", "coach_member_ids": [coach.id().0],
            "archer_member_ids": [tobin.id().0]});
        owner.post("/squads", &squad).expect(201);
        let bows = [&tobin, &ilse].map(|archer| Kit::bow(owner, Some(archer.id())));
        let of_club = Kit::bow(owner, None);
        for (n, bow) in [&bows[0], &bows[1], &of_club].into_iter().enumerate() {
            logged(owner, bow, u32::try_from(n).unwrap() + 1);
        }
        let seen = |person: &Person, query: &str| -> Vec<Value> {
            let list = person.get(&format!("/shot-logs{query}")).expect(200);
            list["data"].as_array().unwrap().iter().map(|log| log["shots"].clone()).collect()
        };
        assert_eq!(seen(&tobin, ""), [1]);
        assert_eq!(seen(&ilse, ""), [2]);
        assert_eq!(seen(&coach, ""), [1, 3]);
        assert_eq!(seen(owner, ""), [1, 2, 3]);
        assert_eq!(seen(&tobin, &format!("?bow_id={}", bows[0])), [1]);
        tobin.get(&format!("/shot-logs?bow_id={}", bows[1])).problem(403);
        coach.get(&format!("/shot-logs?bow_id={}", bows[1])).problem(403);
        assert_eq!(seen(&club.archer("Odo Fenwright"), ""), [0; 0]);

        // A log that moves to another bow is listed where it is now.
        let first = &owner.get("/shot-logs?limit=1").expect(200)["data"][0]["id"];
        let path = format!("/shot-logs/{}", first.as_str().unwrap());
        owner.patch(&path, "*", &json!({"bow_id": bows[1]})).expect(200);
        assert_eq!(seen(&tobin, ""), [0; 0]);
        assert_eq!(seen(&ilse, ""), [1, 2]);
        assert_eq!(seen(&coach, ""), [3]);
    });
}
