//! What forbids shooting, and what lifts it: incidents, unsafe findings, and the inspection of a coach
//! or owner who says why.

use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

const AT: &str = "2027-03-01T08:00:00Z";

#[track_caller]
fn condition(by: &Person, part: &str) -> Value {
    by.get(&format!("/parts/{part}")).expect(200)["condition"].clone()
}

fn inspect(by: &Person, part: &str, at: &str, more: &Value) -> Value {
    let mut body = json!({"part_id": part, "task": "inspected", "at": at});
    body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    by.post("/upkeep", &body).expect(201)
}

/// The conditions of what an answer says is under the bow, by part.
fn conditions(answer: &Value) -> Vec<(String, String)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let parts = answer["parts"].as_array().unwrap().iter();
    parts.map(|part| (text(&part["id"]), text(&part["condition"]))).collect()
}

#[test]
fn a_dry_fire_stops_everything_under_the_bow_until_each_part_is_cleared() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Tobin Larkmoor");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let happened =
            json!({"bow_id": kit.bow, "kind": "dry_fire", "at": AT, "note": "nock broke"});
        let answer = archer.post("/incidents", &happened).expect(201);
        assert_eq!(answer["incident"]["forbids_shooting"], true);
        let stopped = |part: &String| (part.clone(), "do_not_shoot".to_owned());
        assert_eq!(conditions(&answer), [stopped(&kit.string), stopped(&kit.serving)]);

        // The archer's own look is on record, and lifts nothing; nor does a coach without a reason.
        let look = inspect(&archer, &kit.string, "2027-03-01T08:10:00Z", &json!({"note": "fine"}));
        assert_eq!(
            (&look["clears"], &look["part"]["condition"]),
            (&json!(false), &json!("do_not_shoot"))
        );
        let look = inspect(club.owner(), &kit.string, "2027-03-01T08:20:00Z", &json!({}));
        assert_eq!(
            (&look["clears"], &look["part"]["condition"]),
            (&json!(false), &json!("do_not_shoot"))
        );
        let reason = json!({"note": "no strand cut, tips and limbs sound"});
        let look = inspect(club.owner(), &kit.string, "2027-03-01T08:30:00Z", &reason);
        assert_eq!(look["clears"], true);
        assert_ne!(look["part"]["condition"], "do_not_shoot");
        assert_eq!(condition(&archer, &kit.serving), "do_not_shoot");
        inspect(club.owner(), &kit.serving, "2027-03-01T08:30:00Z", &reason);
        assert_ne!(condition(&archer, &kit.serving), "do_not_shoot");
        let listed = archer.get(&format!("/incidents?bow_id={}", kit.bow)).expect(200);
        assert_eq!(listed["data"], json!([answer["incident"]]));
    });
}

#[test]
fn an_unsafe_finding_of_an_archer_stops_the_part_and_a_good_look_of_theirs_lifts_nothing() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Tobin Larkmoor");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let found = json!({"findings": [{"finding": "cut_strand", "grade": 3},
            {"finding": "dry_strands", "grade": 1}]});
        let look = inspect(&archer, &kit.string, AT, &found);
        assert_eq!(look["part"]["condition"], "do_not_shoot");
        let reason = look["part"]["reason"].as_str().unwrap();
        assert!(reason.starts_with("do not shoot: cut strand on 2027-03-01"), "{reason}");
        let expected = json!([{"finding": "dry_strands", "grade": 1},
            {"finding": "cut_strand", "grade": 3}]);
        assert_eq!(look["findings"], expected);
        assert_ne!(condition(&archer, &kit.serving), "do_not_shoot");
        let none = json!({"findings": [{"finding": "cut_strand", "grade": 0}], "note": "was dirt"});
        let again = inspect(&archer, &kit.string, "2027-03-01T08:10:00Z", &none);
        assert_eq!(again["part"]["condition"], "do_not_shoot");
        // An owner's look at the time before it was found is too old.
        inspect(club.owner(), &kit.string, "2027-03-01T07:59:59Z", &none);
        assert_eq!(condition(&archer, &kit.string), "do_not_shoot");
        inspect(club.owner(), &kit.string, "2027-03-01T08:10:00Z", &none);
        assert_ne!(condition(&archer, &kit.string), "do_not_shoot");
        let listed = archer.get(&format!("/upkeep?part_id={}", kit.string)).expect(200);
        let works = listed["data"].as_array().unwrap();
        let clears: Vec<&Value> = works.iter().map(|work| &work["clears"]).collect();
        assert_eq!(clears, [true, false, false, true]);
    });
}

#[test]
fn what_comes_under_the_bow_is_stopped_until_the_bow_has_been_cleared() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let happened = json!({"bow_id": kit.bow, "kind": "limb_damage", "at": AT});
        owner.post("/incidents", &happened).expect(201);
        let path = format!("/bows/{}/string-change", kit.bow);
        let change = |at: &str, name: &str| {
            let body = json!({"at": at, "new_part": {"name": name}, "servings": [{"name": name}]});
            owner.post(&path, &body).expect(201)
        };
        let second = change("2027-03-01T08:10:00Z", "second");
        assert_eq!(second["new_part"]["condition"], "do_not_shoot");
        assert_eq!(second["servings"][0]["condition"], "do_not_shoot");
        let second = second["new_part"]["id"].as_str().unwrap();
        inspect(owner, second, "2027-03-01T08:20:00Z", &json!({"note": "new limbs on"}));
        let third = change("2027-03-01T08:30:00Z", "third");
        assert_ne!(third["new_part"]["condition"], "do_not_shoot");
        // The first string was under the bow when it happened, and nobody has looked at it.
        assert_eq!(condition(owner, &kit.string), "do_not_shoot");
    });
}

#[test]
fn findings_and_measurements_go_with_the_work_they_belong_to() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let work = |task: &str, more: Value| {
            let mut body = json!({"part_id": kit.string, "task": task, "at": AT});
            body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
            owner.post("/upkeep", &body)
        };
        let one = |finding: &str, grade: i64| json!({"finding": finding, "grade": grade});
        let refuse = |task: &str, more: Value, pointer: &str, code: &str| {
            work(task, more).refuses(422, pointer, code);
        };
        let twice =
            json!({"findings": [one("loop_wear", 1), one("cut_strand", 0), one("loop_wear", 2)]});
        refuse("inspected", twice, "/findings/2/finding", "duplicate");
        let given = json!({"findings": [one("loop_wear", 1)]});
        refuse("waxed", given, "/findings", "not_inspected");
        refuse(
            "inspected",
            json!({"findings": [one("rust", 1)]}),
            "/findings/0/finding",
            "unknown_word",
        );
        for grade in [-1, 4] {
            let given = json!({"findings": [one("loop_wear", grade)]});
            refuse("inspected", given, "/findings/0/grade", "out_of_range");
        }
        for (task, length_mm) in [
            ("nocking_point_set", 100.1),
            ("nocking_point_set", -100.1),
            ("brace_height_set", 99.9),
            ("brace_height_set", 400.1),
        ] {
            refuse(task, json!({"measured_mm": length_mm}), "/measured_mm", "out_of_range");
        }
        refuse("inspected", json!({"measured_mm": 3}), "/measured_mm", "not_measured");
        let empty = owner.get(&format!("/upkeep?part_id={}", kit.string)).expect(200);
        assert_eq!(empty["data"], json!([]));
        for (task, length_mm) in [("nocking_point_set", -100.0), ("brace_height_set", 222.5)] {
            let set = work(task, json!({"measured_mm": length_mm})).expect(201);
            assert_eq!(set["measured_mm"], length_mm);
        }
    });
}

#[test]
fn incidents_are_listed_within_reach() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let bows = [&tobin, &ilse].map(|one| Kit::bow(club.owner(), Some(one.id())));
        for bow in bows.iter().cycle().take(8) {
            let happened = json!({"bow_id": bow, "kind": "soaked", "at": AT});
            club.owner().post("/incidents", &happened).expect(201);
        }
        let mut cursor = String::new();
        let mut seen = Vec::new();
        loop {
            let page = tobin.get(&format!("/incidents?limit=3{cursor}")).expect(200);
            seen.extend(page["data"].as_array().unwrap().clone());
            let Some(next) = page["next_cursor"].as_str() else { break };
            assert_eq!(seen.len(), 3, "a page that is not the last is full");
            cursor = format!("&cursor={next}");
        }
        assert_eq!(seen.len(), 4);
        assert!(seen.iter().all(|one| one["bow_id"] == json!(bows[0])));
        let all = club.owner().get("/incidents").expect(200);
        assert_eq!(all["data"].as_array().unwrap().len(), 8);
    });
}

#[test]
fn no_archer_dates_a_fitting_so_that_a_stop_would_be_gone() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let dry_fire = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": AT});
        archer.post("/incidents", &dry_fire).expect(201);
        let before = json!({"at": "2027-03-01T07:00:00Z"});
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        archer.post(&removal, &before).refuses(409, "", "would_lift_stop");
        let change = json!({"at": "2027-03-01T07:00:00Z", "new_part": {"name": "Another"}});
        let change = archer.post(&format!("/bows/{}/string-change", kit.bow), &change);
        change.refuses(409, "", "would_lift_stop");
        // Nor the end of a string, so that what rides on it would not have been there.
        let end = json!({"at": "2027-03-01T07:00:00Z", "end": "worn", "reason": "old"});
        let retirement = archer.post(&format!("/parts/{}/retirement", kit.string), &end);
        retirement.refuses(409, "", "would_lift_stop");
        assert_eq!(condition(&archer, &kit.serving), "do_not_shoot");
        assert_eq!(condition(&archer, &kit.string), "do_not_shoot");
        let after = json!({"at": "2027-03-01T08:30:00Z"});
        archer.post(&removal, &after).expect(200);
        assert_eq!(condition(&archer, &kit.string), "do_not_shoot");
    });
}

#[test]
fn what_is_told_after_an_inspection_was_not_what_was_looked_for() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let reason = json!({"note": "the yearly look-over"});
        inspect(club.owner(), &kit.string, "2027-03-01T08:30:00Z", &reason);
        club.clock.advance(jiff::SignedDuration::from_mins(1));
        // It happened before the inspection, and nobody had said so.
        let dry_fire = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": AT});
        let told = archer.post("/incidents", &dry_fire).expect(201);
        assert_eq!(told["stop"]["cause"], "dry_fire");
        assert_eq!(condition(&archer, &kit.string), "do_not_shoot");
        let found = json!({"findings": [{"finding": "cut_strand", "grade": 3}]});
        inspect(&archer, &kit.string, "2027-03-01T08:20:00Z", &found);
        club.clock.advance(jiff::SignedDuration::from_mins(1));
        // Who knows of it and looks again lifts it, also where the look was dated before it was told.
        inspect(club.owner(), &kit.string, "2027-03-01T08:45:00Z", &reason);
        assert_ne!(condition(&archer, &kit.string), "do_not_shoot");
        let bow = archer.get(&format!("/bows/{}", kit.bow)).expect(200);
        assert_eq!((&bow["stop"], &bow["must_not_be_shot"]), (&Value::Null, &json!(true)));
        assert_eq!(condition(&archer, &kit.serving), "do_not_shoot");
    });
}

#[test]
fn an_archer_does_not_serve_anew_what_must_not_be_shot() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let apart = json!({"findings": [{"finding": "serving_separation", "grade": 3}]});
        inspect(&archer, &kit.serving, AT, &apart);
        let again = json!({"part_id": kit.serving, "task": "re_served", "at": club.now()});
        archer.post("/upkeep", &again).refuses(409, "", "would_lift_stop");
        // A cut strand is the string's, where it stops the string.
        let cut = json!({"part_id": kit.serving, "task": "inspected", "at": AT,
            "findings": [{"finding": "cut_strand", "grade": 3}]});
        archer.post("/upkeep", &cut).refuses(422, "/findings/0/finding", "wrong_finding");
        club.owner().post("/upkeep", &again).expect(201);
    });
}

#[test]
fn a_string_does_not_end_before_what_was_fitted_to_it() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let loop_on = json!({"part_id": Kit::part(owner, "d_loop"), "host_part_id": kit.string,
            "at": AT});
        owner.post("/fittings", &loop_on).expect(201);
        let end = |at: &str| json!({"at": at, "end": "worn", "reason": "fuzzy"});
        let path = format!("/parts/{}/retirement", kit.string);
        owner.post(&path, &end(AT)).refuses(422, "/at", "before_last_fitting");
        owner.post(&path, &end("2027-03-01T08:00:01Z")).expect(200);
    });
}
