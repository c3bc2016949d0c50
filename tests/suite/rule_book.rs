//! Rules for less than the club, by more than counts, and through time: which of them speaks, what a
//! change would do before it is made, and what explains yesterday.

use domain::time::Clock;
use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

const DAY: SignedDuration = SignedDuration::from_hours(24);

/// What the rule for a work says of a part now.
fn verdict(by: &Person, part: &str, task: &str) -> Value {
    let part = by.get(&format!("/parts/{part}")).expect(200);
    let mut verdicts = part["rules"].as_array().unwrap().iter();
    verdicts.find(|one| one["task"] == task).cloned().unwrap_or(Value::Null)
}

/// Adds a waxing rule for strings in a scope; its id.
#[track_caller]
fn wax(by: &Person, scope: &Value, more: &Value) -> String {
    let mut rule = json!({"part_kind": "string", "task": "wax", "scope": scope});
    rule.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    by.post("/rules", &rule).expect(201)["id"].as_str().unwrap().to_owned()
}

fn shots(plan: i64) -> Value {
    json!({"shots": {"plan": plan}})
}

#[test]
fn the_narrowest_scope_speaks_and_the_answer_says_which() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, tobin) = (club.owner(), club.archer("Tobin Larkmoor"));
        let kit = Kit::of(&club, owner, Some(tobin.id()));
        let squad = json!({"name": "Fridays", "archer_member_ids": [tobin.id().0]});
        let squad = owner.post("/squads", &squad).expect(201)["id"].clone();
        let speaks = |scope: &str, limit: i64| {
            let found = verdict(owner, &kit.string, "wax");
            assert_eq!((&found["scope"], &found["limit"]), (&json!(scope), &json!(limit)));
        };
        speaks("club", 500);
        wax(owner, &json!({"of": "division", "division": "recurve"}), &shots(501));
        wax(owner, &json!({"of": "division", "division": "compound"}), &shots(999));
        speaks("division", 501);
        let of_squad = wax(owner, &json!({"of": "squad", "squad_id": squad}), &shots(503));
        speaks("squad", 503);
        let of_bow = wax(owner, &json!({"of": "bow", "bow_id": kit.bow}), &shots(504));
        speaks("bow", 504);
        let again = json!({"part_kind": "string", "task": "wax", "shots": {"plan": 7},
            "scope": {"of": "bow", "bow_id": kit.bow}});
        owner.post("/rules", &again).refuses(409, "", "already_there");
        assert_eq!(owner.delete(&format!("/rules/{of_bow}"), "*").status, 204);
        speaks("squad", 503);
        // With its squad a rule leaves the book, and stays on record.
        let squad = squad.as_str().unwrap();
        assert_eq!(owner.delete(&format!("/squads/{squad}"), "*").status, 204);
        speaks("division", 501);
        owner.get(&format!("/rules/{of_squad}")).problem(404);
        let settings = owner.get(&format!("/rules/{of_squad}/settings")).expect(200);
        let withdrawn: Vec<&Value> =
            settings["data"].as_array().unwrap().iter().map(|one| &one["withdrawn"]).collect();
        assert_eq!(withdrawn, [false, true]);
        assert_eq!(settings["data"][1]["rule"]["set_by_member_id"], json!(owner.id().0));
    });
}

#[test]
fn a_material_is_a_scope_in_whatever_case_it_is_written() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let part = |material: Option<&str>| {
            let body = json!({"kind": "string", "name": "A string", "material": material});
            owner.post("/parts", &body).expect(201)["id"].as_str().unwrap().to_owned()
        };
        wax(owner, &json!({"of": "material", "material": "hmpe"}), &shots(400));
        let scope = |part: &str| verdict(owner, part, "wax")["scope"].clone();
        let again = json!({"part_kind": "string", "task": "wax", "shots": {"plan": 7},
            "scope": {"of": "material", "material": "HMPE"}});
        owner.post("/rules", &again).refuses(409, "", "already_there");
        assert_eq!(scope(&part(Some("HMPE"))), "material");
        assert_eq!(scope(&part(Some("Polyester"))), "club");
        assert_eq!(scope(&part(None)), "club");
    });
}

#[test]
fn findings_incidents_and_the_next_event_ask_for_work() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, tobin) = (club.owner(), club.archer("Tobin Larkmoor"));
        let kit = Kit::of(&club, owner, Some(tobin.id()));
        let of_bow = json!({"of": "bow", "bow_id": kit.bow});
        let more = json!({
            "shots": {"plan": 500},
            "finding": {"any_of": ["dry_strands"], "from_grade": 2},
            "incidents": ["soaked"],
            "event_notice_days": 14,
        });
        wax(owner, &of_bow, &more);
        let told = || {
            let found = verdict(owner, &kit.string, "wax");
            [found["condition"].clone(), found["trigger"].clone()]
        };
        let at = |hours: i64| (club.clock.now() + SignedDuration::from_hours(hours)).to_string();
        assert_eq!(told(), ["sound", "shots"]);
        let dry = json!({"part_id": kit.string, "task": "inspected", "at": at(-3),
            "findings": [{"finding": "dry_strands", "grade": 2}]});
        owner.post("/upkeep", &dry).expect(201);
        assert_eq!(told(), ["due", "finding"]);
        let waxed = |at: String| {
            let work = json!({"part_id": kit.string, "task": "waxed", "at": at});
            owner.post("/upkeep", &work).expect(201);
        };
        waxed(at(-2));
        assert_eq!(told(), ["sound", "shots"]);
        let soaked = json!({"bow_id": kit.bow, "kind": "soaked", "at": at(-1)});
        owner.post("/incidents", &soaked).expect(201);
        assert_eq!(told(), ["due", "incident"]);
        waxed(at(0));
        assert_eq!(told(), ["sound", "shots"]);
        let event = json!({"name": "Invented Cup", "starts_on": "2027-03-15",
            "ends_on": "2027-03-16", "priority": "major", "arrows_expected": 500});
        let event = owner.post("/events", &event).expect(201);
        let entries = json!({"entries": [{"member_id": tobin.id().0, "bow_id": kit.bow}]});
        let path = format!("/events/{}/entries", event["id"].as_str().unwrap());
        owner.put(&path, "*", &entries).expect(200);
        assert_eq!(told(), ["nearing", "event"]);
    });
}

#[test]
fn a_setting_is_in_force_from_its_day_on_and_yesterday_is_explained_by_yesterdays() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let log = json!({"bow_id": kit.bow, "at": club.now(), "shots": 520});
        owner.post("/shot-logs", &log).expect(201);
        let rules = owner.get("/rules").expect(200);
        let rule = rules["data"].as_array().unwrap().iter().find(|rule| rule["task"] == "wax");
        let path = format!("/rules/{}", rule.unwrap()["id"].as_str().unwrap());
        let yesterday = json!({"shots": {"plan": 900}, "effective_on": "2027-02-28"});
        owner.patch(&path, "*", &yesterday).refuses(422, "/effective_on", "in_past");
        let later = json!({"shots": {"plan": 900}, "effective_on": "2027-03-03"});
        assert_eq!(owner.patch(&path, "*", &later).expect(200)["version"], 2);
        let told = || {
            let found = verdict(owner, &kit.string, "wax");
            (found["condition"].clone(), found["rule_version"].clone())
        };
        assert_eq!(told(), (json!("due"), json!(1)));
        club.clock.advance(DAY + DAY);
        assert_eq!(told(), (json!("sound"), json!(2)));
        let explained = |at: &str| {
            let body = owner.get(&format!("/parts/{}/explain{at}", kit.string)).expect(200);
            let of_wax = body["rules"].as_array().unwrap().iter();
            let of_wax: Vec<Value> =
                of_wax.filter(|one| one["rule"]["task"] == "wax").cloned().collect();
            assert_eq!(of_wax.len(), 1);
            let reason = of_wax[0]["triggers"][0]["reason"].clone();
            (of_wax[0]["rule"]["version"].clone(), reason, body["condition"].clone())
        };
        let by_then = json!("520 shots and never waxed; plan 500");
        assert_eq!(explained("?at=2027-03-02").0, 1);
        assert_eq!(explained("?at=2027-03-02").1, by_then);
        let now = json!("520 shots and never waxed; plan 900");
        assert_eq!(explained("").0, 2);
        assert_eq!(explained("").1, now);
        // Before there was a club there was no rule.
        let before = owner.get(&format!("/parts/{}/explain?at=2027-02-28", kit.string)).expect(200);
        assert_eq!((&before["rules"], &before["condition"]), (&json!([]), &json!("sound")));
        let tomorrow = format!("/parts/{}/explain?at=2027-03-05", kit.string);
        owner.get(&tomorrow).refuses(422, "/at", "in_future");
        // A setting at once supersedes one that was to come.
        let much_later = json!({"shots": {"plan": 5_000}, "effective_on": "2027-03-10"});
        owner.patch(&path, "*", &much_later).expect(200);
        owner.patch(&path, "*", &json!({"shots": {"plan": 600}})).expect(200);
        club.clock.advance(DAY * 10);
        assert_eq!(verdict(owner, &kit.string, "wax")["limit"], 600);
    });
}

#[test]
fn an_account_adds_up_and_says_whose_setting_applied() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        for (at, shots) in [("2027-02-28T10:00:00Z", 100), ("2027-03-01T08:00:00Z", 60)] {
            let log = json!({"bow_id": kit.bow, "at": at, "shots": shots});
            owner.post("/shot-logs", &log).expect(201);
        }
        let waxed = json!({"part_id": kit.string, "task": "waxed", "at": "2027-02-28T12:00:00Z"});
        owner.post("/upkeep", &waxed).expect(201);
        wax(owner, &json!({"of": "bow", "bow_id": kit.bow}), &shots(50));
        let body = owner.get(&format!("/parts/{}/explain", kit.string)).expect(200);
        let clock = |name: &str| {
            let clocks = body["clocks"].as_array().unwrap();
            clocks.iter().find(|one| one["clock"] == name).unwrap().clone()
        };
        let life = "0 (came with) + 160 (Grey recurve from 2027-02-28 on, 2 logs) = 160";
        assert_eq!((&clock("life")["sum"], &clock("life")["shots"]), (&json!(life), &json!(160)));
        let since = "0 (came with) + 60 (Grey recurve from 2027-02-28 on, 1 logs) = 60";
        assert_eq!(clock("waxed")["sum"], since);
        assert_eq!(clock("waxed")["last_done_at"], "2027-02-28T12:00:00Z");
        let of_wax = body["rules"].as_array().unwrap().iter();
        let of_wax: Vec<&Value> = of_wax.filter(|one| one["rule"]["task"] == "wax").collect();
        let said: Vec<_> =
            of_wax.iter().map(|one| (&one["rule"]["scope"]["of"], &one["speaks"])).collect();
        assert_eq!(said, [(&json!("bow"), &json!(true)), (&json!("club"), &json!(false))]);
        assert_eq!(of_wax[0]["set_by_name"], "Maren Ilves");
        assert_eq!(of_wax[1]["rule"]["source"], "common practice, no source");
        assert_eq!(of_wax[0]["triggers"][0]["shots_left"], -10);
        let state = owner.get(&format!("/parts/{}", kit.string)).expect(200);
        assert_eq!((&body["condition"], &body["reason"]), (&state["condition"], &state["reason"]));
    });
}

#[test]
fn a_preview_says_what_would_change_and_changes_nothing() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        Kit::measured(owner, &kit.string, &club.now());
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 450});
        owner.post("/shot-logs", &log).expect(201);
        let rules = owner.get("/rules").expect(200);
        let rule = rules["data"].as_array().unwrap().iter().find(|rule| rule["task"] == "wax");
        let id = rule.unwrap()["id"].clone();
        let asked = json!({"rule_id": id, "change": {"shots": {"plan": 450, "notice": 0}}});
        let seen = owner.post("/rules/preview", &asked).expect(200);
        assert_eq!((&seen["parts"], &seen["rule"]["version"]), (&json!(2), &json!(2)));
        let changed = seen["changed"].as_array().unwrap();
        assert_eq!((changed.len(), &changed[0]["part_id"]), (1, &json!(kit.string)));
        assert_eq!(changed[0]["before"]["condition"], "nearing");
        let after = json!({"condition": "due",
            "reason": "wax the string: 450 shots and never waxed; plan 450"});
        assert_eq!(changed[0]["after"], after);
        let add = json!({"add": {"part_kind": "center_serving", "task": "change",
            "shots": {"plan": 400}}});
        let seen = owner.post("/rules/preview", &add).expect(200);
        assert_eq!(seen["changed"][0]["after"]["condition"], "overdue");
        let removal = owner.post("/rules/preview", &json!({"rule_id": id})).expect(200);
        assert_eq!(removal["rule"], Value::Null);
        assert_eq!(owner.get("/rules").expect(200), rules);
        let refused = json!({"add": {"part_kind": "cams", "task": "inspect"}});
        owner.post("/rules/preview", &refused).refuses(422, "/add/shots", "missing");
        owner.post("/rules/preview", &json!({})).refuses(422, "", "one_of_three");
        let there = json!({"add": {"part_kind": "string", "task": "wax", "shots": {"plan": 1}}});
        owner.post("/rules/preview", &there).refuses(409, "", "already_there");
    });
}

#[test]
fn a_rule_that_contradicts_itself_is_refused_by_its_place() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let bow = Kit::bow(owner, None);
        let before = owner.get("/rules").expect(200);
        let nobody = "018d0000-0000-7000-8000-000000000001";
        let refused = |kind: &str, task: &str, more: Value, pointer: &str, code: &str| {
            let mut rule = json!({"part_kind": kind, "task": task, "shots": {"plan": 5}});
            rule.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
            owner.post("/rules", &rule).refuses(422, pointer, code);
        };
        let scope = |scope: Value| json!({"scope": scope});
        let longbow = scope(json!({"of": "division", "division": "longbow"}));
        refused("cams", "inspect", longbow, "/scope", "never_covers");
        let recurve = scope(json!({"of": "bow", "bow_id": bow}));
        refused("cable", "wax", recurve, "/scope/bow_id", "never_covers");
        let two = scope(json!({"of": "division", "division": "compound", "material": "HMPE"}));
        refused("cable", "wax", two, "/scope/material", "contradicts_scope");
        let none = scope(json!({"of": "material"}));
        refused("cable", "wax", none, "/scope/material", "missing");
        refused("cable", "wax", scope(json!({"of": "town"})), "/scope/of", "unknown_word");
        let never = json!({"shots": null, "finding": {"from_grade": 2}});
        refused("limbs", "inspect", never, "/finding/any_of", "never_fires");
        let strange = json!({"finding": {"any_of": ["cam_damage"], "from_grade": 2}});
        refused("string", "change", strange, "/finding/any_of", "wrong_finding");
        let no_grade = json!({"finding": {"from_grade": 0}});
        refused("cable", "wax", no_grade, "/finding/from_grade", "out_of_range");
        let one = json!({"combine": "all"});
        refused("cable", "wax", one, "/combine", "nothing_to_combine");
        refused("cable", "wax", json!({"incidents": ["rain"]}), "/incidents/0", "unknown_word");
        let far = json!({"event_notice_days": 91});
        refused("cable", "wax", far, "/event_notice_days", "out_of_range");
        for squad_or_bow in ["squad", "bow"] {
            let key = format!("{squad_or_bow}_id");
            let rule = json!({"part_kind": "string", "task": "inspect", "shots": {"plan": 5},
                "scope": {"of": squad_or_bow, key: nobody}});
            owner.post("/rules", &rule).problem(404);
        }
        assert_eq!(owner.get("/rules").expect(200), before);
    });
}
