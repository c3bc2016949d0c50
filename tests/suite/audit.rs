//! Who changed what, as people read it: in full for owners, and of bows within reach for the others.

use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

const AT: &str = "2027-03-01T08:30:00Z";

/// The changes that somebody reads of a list.
#[track_caller]
fn read(by: &Person, query: &str) -> Vec<Value> {
    let list = by.get(&format!("/audit?limit=200&{query}")).expect(200);
    list["data"].as_array().unwrap().clone()
}

/// What of a bow is on record; the rest of an answer is what follows from other records.
fn on_record(mut bow: Value) -> Value {
    let fields = bow.as_object_mut().unwrap();
    let follows = ["stop", "missing_parts", "must_not_be_shot", "disowned_by"];
    fields.retain(|name, _| !follows.contains(&name.as_str()));
    bow
}

fn operations(changes: &[Value]) -> Vec<&str> {
    changes.iter().map(|change| change["operation"].as_str().unwrap()).collect()
}

#[test]
fn a_change_says_who_made_it_and_what_was_there_before_and_after() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let bow = Kit::bow(owner, None);
        let before = owner.get(&format!("/bows/{bow}")).expect(200);
        let change = json!({"name": "Grey bow 弓", "draw_weight_lbf": 40});
        let after = owner.patch(&format!("/bows/{bow}"), "*", &change).expect(200);
        let found = read(owner, &format!("subject_id={bow}"));
        assert_eq!(operations(&found), ["change_bow", "add_bow"]);
        let changed = &found[0];
        for (field, value) in [
            ("at", json!(club.now())),
            ("by_member_id", json!(owner.id().0)),
            ("subject", json!("bow")),
            ("subject_id", json!(bow)),
            ("bow_id", json!(bow)),
            ("before", on_record(before.clone())),
            ("after", on_record(after)),
        ] {
            assert_eq!(changed[field], value, "{field}");
        }
        assert_eq!(
            changed["changed"],
            json!([
                {"field": "draw_weight_lbf", "from": 36.5, "to": 40.0},
                {"field": "name", "from": "Grey recurve", "to": "Grey bow 弓"}
            ])
        );
        let added = &found[1];
        assert_eq!((&added["before"], &added["after"]), (&Value::Null, &on_record(before)));
        assert_eq!(added["changed"], json!([]));
    });
}

#[test]
fn owners_read_all_a_coach_their_archers_bows_and_an_archer_their_own() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (ana, ben) = (club.archer("Ana Invented"), club.archer("Ben Invented"));
        let (coach, other) = (club.coach("Ferin Invented"), club.coach("Brannoc Invented"));
        let squad = json!({"name": "Thursdays", "coach_member_ids": [coach.id().0],
            "archer_member_ids": [ana.id().0]});
        owner.post("/squads", &squad).expect(201);
        let (blue, red) =
            (Kit::of(&club, owner, Some(ana.id())), Kit::of(&club, owner, Some(ben.id())));
        let log = json!({"bow_id": blue.bow, "at": AT, "shots": 30});
        let log = ana.post("/shot-logs", &log).expect(201)["shot_log"].clone();
        let path = format!("/shot-logs/{}", log["id"].as_str().unwrap());
        ana.patch(&path, "*", &json!({"shots": 31})).expect(200);

        let all = read(owner, "");
        let strung = ["fit_part", "fit_part", "add_part", "add_part", "add_bow"];
        let expected: Vec<&str> = ["correct_shot_log"]
            .into_iter()
            .chain(strung)
            .chain(strung)
            .chain(["add_squad"])
            .collect();
        assert_eq!(operations(&all), expected);
        // Parts that never hung under a bow when they were added are about none.
        let of_blue = ["correct_shot_log", "fit_part", "fit_part", "add_bow"];
        for who in [&ana, &coach] {
            let theirs = read(who, "");
            assert_eq!(operations(&theirs), of_blue);
            assert!(theirs.iter().all(|one| one["bow_id"] == json!(blue.bow)), "{theirs:?}");
            assert_eq!(read(who, &format!("bow_id={}", blue.bow)), theirs);
            assert_eq!(read(who, &format!("subject_id={}", red.bow)), [] as [Value; 0]);
            who.get(&format!("/audit?bow_id={}", red.bow)).problem(403);
        }
        assert_eq!(read(&other, ""), [] as [Value; 0]);
        assert_eq!(operations(&read(&ben, "")), ["fit_part", "fit_part", "add_bow"]);
        let neighbour = club.neighbour();
        assert_eq!(read(&neighbour, ""), [] as [Value; 0]);
        neighbour.get(&format!("/audit?bow_id={}", blue.bow)).problem(404);
        neighbour.get(&format!("/audit?member_id={}", ana.id())).problem(404);

        // By whom, by which operation, and page by page.
        assert_eq!(
            operations(&read(owner, &format!("member_id={}", ana.id()))),
            ["correct_shot_log"]
        );
        assert_eq!(read(owner, "operation=fit_part").len(), 4);
        assert_eq!(read(owner, "operation=no_such_thing"), [] as [Value; 0]);
        let first = owner.get("/audit?limit=5").expect(200);
        let cursor = first["next_cursor"].as_str().unwrap();
        let second = owner.get(&format!("/audit?limit=200&cursor={cursor}")).expect(200);
        let paged: Vec<Value> = [first, second]
            .iter()
            .flat_map(|page| page["data"].as_array().unwrap().clone())
            .collect();
        assert_eq!(paged, all);
    });
}

#[test]
fn changes_are_found_by_the_clubs_days() {
    on_both(|database| {
        // An hour before the day ends in Lisbon.
        let club = Club::start_at(database, "2027-07-01T22:30:00Z".parse().unwrap(), None);
        let owner = club.owner();
        Kit::bow(owner, None);
        club.clock.advance(jiff::SignedDuration::from_mins(45));
        Kit::part(owner, "string");
        let found = |query: &str| operations(&read(owner, query)).join(" ");
        assert_eq!(found("until=2027-07-01"), "add_bow");
        assert_eq!(found("from=2027-07-02"), "add_part");
        assert_eq!(found("from=2027-07-01&until=2027-07-02"), "add_part add_bow");
        assert_eq!(found("from=2027-07-03"), "");
        owner.get("/audit?from=2027-07-02&until=2027-07-01").refuses(422, "/until", "before_from");
        owner.get("/audit?from=yesterday").refuses(422, "/from", "not_a_date");
        owner.get("/audit?until=2200-01-01").refuses(422, "/until", "out_of_range");
        owner.get("/audit?operation=a%00b").refuses(422, "/operation", "control_character");
        owner.get("/audit?bow=1").problem(422);
        owner.get("/audit?bow_id=1").problem(422);
    });
}

#[test]
fn no_secret_is_on_record_and_what_is_answered_again_is_recorded_once() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let made = json!({"name": "Bench", "scope": "read"});
        let made = owner.post_once("/tokens", "once", &made).expect(201);
        owner.post_once("/tokens", "once", &json!({"name": "Bench", "scope": "read"})).expect(201);
        let token = format!("/tokens/{}", made["id"].as_str().unwrap());
        assert_eq!(owner.delete(&token, "").status, 204);
        assert_eq!(owner.delete(&token, "").status, 204);
        let guest = json!({"name": "Odo Fenwright", "email": "odo@club.example", "role": "archer"});
        owner.post("/members", &guest).expect(201);
        let changes = read(owner, "");
        assert_eq!(operations(&changes), ["invite_member", "revoke_token", "make_token"]);
        let kept =
            "SELECT COALESCE(before, '') || COALESCE(after, '') AS text FROM audit ORDER BY text";
        let kept = database.texts(kept).concat();
        let secret = made["token"].as_str().unwrap();
        for hidden in [secret, &secret[3..], "\"token\"", "hash", "password", "argon2", "/reset/"] {
            assert!(!kept.contains(hidden), "{hidden} is in {kept}");
        }
        assert!(kept.contains("Bench"), "{kept}");
    });
}

#[test]
fn what_is_refused_leaves_no_record() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Ana Invented"));
        let kit = Kit::of(&club, owner, Some(archer.id()));
        let path = format!("/bows/{}", kit.bow);
        let before = read(owner, "").len();
        let change = json!({"name": "Mine"});
        archer.patch(&path, "*", &change).problem(403);
        owner.patch(&path, "\"9\"", &change).problem(412);
        owner.patch(&path, "*", &json!({"name": ""})).problem(422);
        // A stop cannot be dated away, and trying to leaves nothing behind.
        let incident = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": AT});
        owner.post("/incidents", &incident).expect(201);
        let early = json!({"to": "2027-02-28T18:00:00Z"});
        let fitting = format!("/fittings/{}", kit.string_fitting);
        archer.patch(&fitting, "*", &early).refuses(409, "", "would_lift_stop");
        archer.delete(&fitting, "*").refuses(409, "", "would_lift_stop");
        let changes = read(owner, "");
        assert_eq!(changes.len(), before + 1, "{changes:?}");
        assert_eq!(changes[0]["operation"], "record_incident");
    });
}
