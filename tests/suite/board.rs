//! The board: a row for each bow within reach, the most urgent first.

use domain::ids::MemberId;
use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

fn rows(by: &Person, query: &str) -> Vec<Value> {
    let board = by.get(&format!("/board{query}")).expect(200);
    board["data"].as_array().unwrap().clone()
}

/// The bows of the rows, in their order.
fn bows(by: &Person, query: &str) -> Vec<String> {
    let rows = rows(by, query);
    rows.iter().map(|row| row["bow"]["id"].as_str().unwrap().to_owned()).collect()
}

/// A bow of somebody's by that name, without anything on it.
fn bow(by: &Person, name: &str, archer: Option<MemberId>) -> String {
    let body = json!({"name": name, "division": "recurve", "bow_length_in": 68,
        "draw_weight_lbf": 36.5, "archer_member_id": archer.map(|member| member.0)});
    by.post("/bows", &body).expect(201)["id"].as_str().unwrap().to_owned()
}

#[test]
fn every_bow_has_a_row_with_its_people_and_its_most_urgent_part() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let body = json!({"name": "Ash", "division": "longbow", "bow_length_in": 68,
            "draw_weight_lbf": 40, "archer_member_id": tobin.id().0,
            "keeper_member_id": ilse.id().0});
        let bare = owner.post("/bows", &body).expect(201)["id"].as_str().unwrap().to_owned();
        let fresh = Kit::of(&club, owner, None);
        let worn = Kit::of(&club, owner, Some(tobin.id()));
        let log = json!({"bow_id": worn.bow, "at": "2027-03-01T08:30:00Z", "shots": 1_999});
        owner.post("/shot-logs", &log).expect(201);
        let board = owner.get("/board").expect(200);
        assert_eq!((&board["as_of"], &board["event"]), (&json!("2027-03-01"), &Value::Null));
        assert_eq!(bows(owner, ""), [worn.bow, fresh.bow, bare]);
        let rows = board["data"].as_array().unwrap();
        assert_eq!(rows[0]["condition"], "overdue");
        let waxing = "wax the string: 1,999 shots and never waxed; plan 500";
        assert_eq!(rows[0]["reason"], waxing);
        assert_eq!(rows[0]["parts"][0]["reason"], waxing);
        let parts: Vec<&Value> = rows[0]["parts"].as_array().unwrap().iter().collect();
        assert_eq!(parts.len(), 2);
        assert!(parts.iter().all(|part| part["due_on"]["method"] == "recent_rate"), "{parts:?}");
        let row = json!({
            "bow": {"id": rows[2]["bow"]["id"], "name": "Ash", "division": "longbow",
                "archer_member_id": tobin.id().0, "archer_name": "Tobin Larkmoor",
                "keeper_member_id": ilse.id().0, "keeper_name": "Ilse Quillfeather"},
            "condition": null, "reason": "nothing is fitted", "stopped": null,
            "disowned": false, "missing_parts": ["string", "center_serving"], "before_event": null, "parts": [],
        });
        assert_eq!(rows[2], row);
    });
}

#[test]
fn everybody_sees_the_bows_that_they_reach_and_a_squad_only_its_coaches() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let (coach, other) = (club.coach("Runa Hollowell"), club.coach("Odo Fenwright"));
        let of_tobin = bow(owner, "A", Some(tobin.id()));
        let of_ilse = bow(owner, "B", Some(ilse.id()));
        let of_club = bow(owner, "C", None);
        let squad = club.squad("Thursdays", &[&coach], &[&tobin]);
        assert_eq!(bows(owner, ""), [&*of_tobin, &*of_ilse, &*of_club]);
        assert_eq!(bows(&coach, ""), [&*of_tobin, &*of_club]);
        assert_eq!(bows(&other, ""), [&*of_club]);
        assert_eq!(bows(&tobin, ""), [&*of_tobin]);
        let of_squad = format!("?squad_id={squad}");
        assert_eq!(bows(owner, &of_squad), [&*of_tobin]);
        assert_eq!(bows(&coach, &of_squad), [&*of_tobin]);
        other.get(&format!("/board{of_squad}")).problem(403);
        tobin.get(&format!("/board{of_squad}")).problem(403);
        for unknown in ["squad_id", "event_id"] {
            owner.get(&format!("/board?{unknown}={}", uuid::Uuid::max())).problem(404);
        }
        let stranger = club.neighbour();
        assert_eq!(bows(&stranger, ""), [""; 0]);
        stranger.get(&format!("/board{of_squad}")).problem(404);
        club.anonymous().get("/board").problem(401);
    });
}

#[test]
fn before_an_event_the_board_says_what_has_to_be_done_until_then() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let tobin = club.archer("Tobin Larkmoor");
        for rule in owner.get("/rules").expect(200)["data"].as_array().unwrap() {
            let path = format!("/rules/{}", rule["id"].as_str().unwrap());
            assert_eq!(owner.delete(&path, "*").status, 204);
        }
        // 60 shots left at 100 a week: 4.2 days, so 6 March.
        let rule = json!({"part_kind": "center_serving", "task": "re_serve",
            "shots": {"plan": 860, "notice": 10}});
        owner.post("/rules", &rule).expect(201);
        let kit = Kit::shot_evenly(owner, Some(tobin.id()));
        bow(owner, "Not entered", Some(tobin.id()));
        let board = |starts_on: &str| {
            let event = club.event("Invented Hill 720", starts_on, &[(&tobin, &kit.bow)]);
            let board = tobin.get(&format!("/board?event_id={event}")).expect(200);
            assert_eq!(board["data"].as_array().unwrap().len(), 1, "{board}");
            assert_eq!(board["data"][0]["bow"]["id"], json!(kit.bow));
            assert_eq!(board["event"]["id"], json!(event.0));
            (board["event"].clone(), board["data"][0]["before_event"].clone())
        };
        let (event, before) = board("2027-03-05");
        assert_eq!(before, json!({"wants_work": false, "tasks": []}));
        assert_eq!((&event["name"], &event["days_left"]), (&json!("Invented Hill 720"), &json!(4)));
        assert_eq!(event["starts_on"], "2027-03-05");
        let (_, before) = board("2027-03-06");
        let task = json!({"part_id": kit.serving, "task": "re_serve", "p50_on": "2027-03-06"});
        assert_eq!(before, json!({"wants_work": true, "tasks": [task]}));
    });
}

#[test]
fn who_has_the_board_already_is_not_told_again_that_day() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let ask = |tag: &str| {
            let bearer = format!("Bearer {}", owner.token().unwrap());
            owner.get_with("/board", &[("authorization", &bearer), ("if-none-match", tag)])
        };
        let tag = ask("").header("etag").to_owned();
        club.clock.advance(jiff::SignedDuration::from_mins(10));
        let again = ask(&tag);
        assert_eq!((again.status, again.header("etag"), again.body.len()), (304, &*tag, 0));
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 1});
        owner.post("/shot-logs", &log).expect(201);
        let changed = ask(&tag);
        assert_eq!(changed.status, 200);
        let tag = changed.header("etag").to_owned();
        assert_eq!(ask(&tag).status, 304);
        club.clock.advance(jiff::SignedDuration::from_hours(24));
        assert_eq!(ask(&tag).status, 200);
    });
}
