//! The rule book: read by everybody, set by owners, and kept in bounds.

use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

/// The rule for that work on such parts.
fn find(by: &Person, kind: &str, task: &str) -> Value {
    let rules = by.get("/rules").expect(200);
    let mut rules = rules["data"].as_array().unwrap().iter();
    rules.find(|rule| rule["part_kind"] == kind && rule["task"] == task).unwrap().clone()
}

fn path_of(rule: &Value) -> String {
    format!("/rules/{}", rule["id"].as_str().unwrap())
}

#[test]
fn a_new_club_has_the_whole_book_and_every_line_says_where_it_comes_from() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Tobin Larkmoor");
        let rules = archer.get("/rules").expect(200);
        let rules = rules["data"].as_array().unwrap();
        assert_eq!(rules.len(), 8);
        for rule in rules {
            assert_eq!(rule["source"], "common practice, no source", "{rule}");
            assert_eq!(rule["set_by_member_id"], Value::Null, "{rule}");
            assert_eq!(rule["set_at"], "2027-03-01T09:00:00Z", "{rule}");
            let one = archer.get(&path_of(rule));
            assert_eq!(&one.expect(200), rule);
            assert_eq!(one.header("etag"), "\"1\"");
        }
        let change = find(&archer, "string", "change");
        let shots = json!({"plan": 15_000, "notice": 1_500, "grace": 3_000, "retire": 30_000});
        assert_eq!(change["shots"], shots);
        let days = json!({"plan": null, "notice": 60, "grace": 0, "retire_months": 36});
        assert_eq!(change["days"], days);
        let settling = find(&archer, "string", "check_settling");
        assert_eq!(settling["checks_at_shots"], json!([0, 50, 100, 200]));
    });
}

#[test]
fn a_changed_rule_is_judged_by_at_once_and_says_who_set_it() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 520});
        owner.post("/shot-logs", &log).expect(201);
        let waxing = || {
            let string = owner.get(&format!("/parts/{}", kit.string)).expect(200);
            let mut verdicts = string["rules"].as_array().unwrap().iter();
            verdicts.find(|one| one["task"] == "wax").unwrap()["condition"].clone()
        };
        assert_eq!(waxing(), "due");
        let path = path_of(&find(owner, "string", "wax"));
        let longer = json!({"shots": {"plan": 900, "grace": null}, "source": "our string maker"});
        let answer = owner.patch(&path, "\"1\"", &longer);
        let changed = answer.expect(200);
        assert_eq!(answer.header("etag"), "\"2\"");
        let shots = json!({"plan": 900, "notice": 100, "grace": 0, "retire": null});
        assert_eq!(changed["shots"], shots);
        assert_eq!(changed["days"]["plan"], 14);
        assert_eq!(changed["source"], "our string maker");
        assert_eq!(changed["set_by_member_id"], json!(owner.id().0));
        assert_eq!(waxing(), "sound");

        owner.patch(&path, "\"1\"", &longer).problem(412);
        owner.patch(&path, "", &longer).problem(428);
        let only_days = json!({"shots": null});
        let changed = owner.patch(&path, "\"2\"", &only_days).expect(200);
        assert_eq!((&changed["shots"], &changed["days"]["plan"]), (&Value::Null, &json!(14)));
        assert_eq!(changed["source"], "set by the club");
        let again = json!({"shots": {"notice": 5}});
        owner.patch(&path, "\"3\"", &again).refuses(422, "/shots/plan", "missing");
        assert_eq!(owner.get(&path).header("etag"), "\"3\"");
    });
}

#[test]
fn a_rule_is_added_once_and_taken_out_again() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let cable = json!({"part_kind": "cable", "task": "wax", "shots": {"plan": 800},
            "days": {"plan": 14, "notice": 3}, "source": "our own cables"});
        let added = owner.post("/rules", &cable);
        let rule = added.expect(201);
        assert_eq!(added.header("location"), format!("/api/v1{}", path_of(&rule)));
        assert_eq!(added.header("etag"), "\"1\"");
        assert_eq!(rule["shots"]["notice"], 0);
        assert_eq!(owner.get(&path_of(&rule)).expect(200), rule);
        owner.post("/rules", &cable).refuses(409, "", "already_there");
        let wax = json!({"part_kind": "string", "task": "wax", "shots": {"plan": 800}});
        owner.post("/rules", &wax).refuses(409, "", "already_there");

        owner.delete(&path_of(&rule), "").problem(428);
        owner.delete(&path_of(&rule), "\"7\"").problem(412);
        assert_eq!(owner.delete(&path_of(&rule), "\"1\"").status, 204);
        owner.get(&path_of(&rule)).problem(404);
        owner.delete(&path_of(&rule), "\"1\"").problem(404);
        owner.post("/rules", &cable).expect(201);
    });
}

#[test]
fn a_reminder_of_a_rule_that_left_the_book_is_not_sent() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        Kit::measured(owner, &kit.string, &club.now());
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 520});
        owner.post("/shot-logs", &log).expect(201);
        club.sweep();
        let of_wax = || {
            let told = owner.get("/reminders").expect(200);
            let told = told["data"].as_array().unwrap().iter();
            told.filter(|one| one["task"] == "wax")
                .map(|one| one["state"].clone())
                .collect::<Vec<_>>()
        };
        assert_eq!(of_wax(), ["raised"]);
        let wax = find(owner, "string", "wax");
        assert_eq!(owner.delete(&path_of(&wax), "\"1\"").status, 204);
        club.clock.advance(SignedDuration::from_hours(24));
        club.sweep();
        assert_eq!(of_wax(), ["cancelled"]);
    });
}

#[test]
fn very_many_shots_on_a_string_stand_with_the_reason_for_them() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let path = path_of(&find(owner, "string", "change"));
        let mut change = json!({"shots": {"plan": 40_000, "retire": 60_000}});
        owner.patch(&path, "\"1\"", &change).refuses(422, "/shots/retire", "needs_override");
        change["override_reason"] = json!("light bows of beginners");
        let changed = owner.patch(&path, "\"1\"", &change).expect(200);
        assert_eq!(changed["source"], "set by the club; override: light bows of beginners");
        assert_eq!(changed["shots"]["retire"], 60_000);
        // Whoever changes anything of it signs for that limit too.
        let notice = json!({"shots": {"notice": 100}});
        owner.patch(&path, "\"2\"", &notice).refuses(422, "/shots/retire", "needs_override");
        let lower = json!({"shots": {"retire": 59_999}});
        let changed = owner.patch(&path, "\"2\"", &lower).expect(200);
        assert_eq!(changed["source"], "set by the club");
        let idle = json!({"source": "trade", "override_reason": "because"});
        owner.patch(&path, "\"3\"", &idle).refuses(422, "/override_reason", "nothing_to_override");
    });
}

/// A kind of part, a task, limits as JSON, and what is refused of them.
type Misfit = (&'static str, &'static str, &'static str, &'static str, &'static str);

const MISFITS: &[Misfit] = &[
    ("cams", "wax", r#"{"shots": {"plan": 5}}"#, "/task", "wrong_task"),
    ("peep", "re_serve", r#"{"shots": {"plan": 5}}"#, "/task", "wrong_task"),
    ("nocking_point", "check_nocking_point", r#"{"shots": {"plan": 5}}"#, "/task", "wrong_task"),
    ("feather", "inspect", r#"{"shots": {"plan": 5}}"#, "/part_kind", "unknown_word"),
    ("cams", "polish", r#"{"shots": {"plan": 5}}"#, "/task", "unknown_word"),
    ("cams", "inspect", "{}", "/shots", "missing"),
    ("cams", "inspect", r#"{"shots": null, "days": null}"#, "/shots", "missing"),
    ("cams", "inspect", r#"{"days": {}}"#, "/days/plan", "missing"),
    ("cams", "inspect", r#"{"shots": {}}"#, "/shots/plan", "missing"),
    ("cams", "inspect", r#"{"shots": [5, 0, 0, null]}"#, "/shots", "wrong_type"),
    ("cams", "inspect", r#"{"shots": {"plan": 0}}"#, "/shots/plan", "out_of_range"),
    ("cams", "inspect", r#"{"shots": {"plan": 1000001}}"#, "/shots/plan", "out_of_range"),
    ("cams", "inspect", r#"{"shots": {"plan": 2147483648}}"#, "/shots/plan", "out_of_range"),
    ("cams", "inspect", r#"{"shots": {"plan": 5.5}}"#, "/shots/plan", "wrong_type"),
    ("cams", "inspect", r#"{"shots": {"plan": "5"}}"#, "/shots/plan", "wrong_type"),
    (
        "cams",
        "inspect",
        r#"{"shots": {"plan": 5, "notice": 5}}"#,
        "/shots/notice",
        "not_below_limit",
    ),
    (
        "cams",
        "inspect",
        r#"{"shots": {"plan": 5, "retire": 5}}"#,
        "/shots/retire",
        "not_above_plan",
    ),
    ("cams", "inspect", r#"{"shots": {"plan": 5, "after": 5}}"#, "/shots/after", "unknown_field"),
    ("cams", "inspect", r#"{"days": {"plan": 3651}}"#, "/days/plan", "out_of_range"),
    (
        "cams",
        "inspect",
        r#"{"days": {"retire_months": 121}}"#,
        "/days/retire_months",
        "out_of_range",
    ),
    (
        "cams",
        "inspect",
        r#"{"days": {"plan": 31, "retire_months": 1}}"#,
        "/days/retire_months",
        "not_above_plan",
    ),
    (
        "cams",
        "inspect",
        r#"{"shots": {"plan": 5}, "checks_at_shots": [1]}"#,
        "/checks_at_shots",
        "not_for_task",
    ),
    (
        "cable",
        "settle_in",
        r#"{"shots": {"plan": 5, "notice": 1}}"#,
        "/shots/notice",
        "not_for_task",
    ),
    ("cable", "settle_in", r#"{"days": {"plan": 5}}"#, "/days", "not_for_task"),
    (
        "string",
        "check_settling",
        r#"{"checks_at_shots": [0, 50, 50]}"#,
        "/checks_at_shots/2",
        "not_rising",
    ),
    ("string", "check_settling", r#"{"checks_at_shots": []}"#, "/checks_at_shots", "missing"),
    (
        "cams",
        "inspect",
        r#"{"shots": {"plan": 5}, "source": "a\nb"}"#,
        "/source",
        "control_character",
    ),
    (
        "cams",
        "inspect",
        r#"{"shots": {"plan": 5}, "override_reason": " "}"#,
        "/override_reason",
        "empty",
    ),
    ("string", "change", r#"{"shots": {"plan": 60000}}"#, "/shots/plan", "needs_override"),
];

#[test]
fn limits_that_cannot_be_are_refused_by_their_place() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let before = owner.get("/rules").expect(200);
        for &(kind, task, limits, pointer, code) in MISFITS {
            let mut rule = json!({"part_kind": kind, "task": task});
            let limits: Value = serde_json::from_str(limits).unwrap();
            rule.as_object_mut().unwrap().extend(limits.as_object().unwrap().clone());
            owner.post("/rules", &rule).refuses(422, pointer, code);
        }
        assert_eq!(owner.get("/rules").expect(200), before);
    });
}

#[test]
fn only_an_owner_of_the_club_sets_rules() {
    on_both(|database| {
        let club = Club::start(database);
        let path = path_of(&find(club.owner(), "string", "wax"));
        let before = club.owner().get("/rules").expect(200);
        let cable = json!({"part_kind": "cable", "task": "wax", "shots": {"plan": 800}});
        let change = json!({"shots": {"plan": 900}});
        for person in [club.archer("Tobin Larkmoor"), club.coach("Ilse Quillfeather")] {
            person.post("/rules", &cable).problem(403);
            person.patch(&path, "\"1\"", &change).problem(403);
            person.delete(&path, "\"1\"").problem(403);
            assert_eq!(person.get("/rules").expect(200), before);
        }
        let stranger = club.neighbour();
        stranger.get(&path).problem(404);
        stranger.patch(&path, "\"1\"", &change).problem(404);
        stranger.delete(&path, "\"1\"").problem(404);
        club.anonymous().get("/rules").problem(401);
        let task = json!({"task": "inspect"});
        club.owner().patch(&path, "\"1\"", &task).refuses(422, "/task", "unknown_field");
        assert_eq!(club.owner().get("/rules").expect(200), before);
    });
}
