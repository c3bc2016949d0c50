//! The list of what is due.

use serde_json::json;

use crate::support::{Club, Kit, Person, on_both};

#[test]
fn what_is_in_the_case_is_not_due_until_it_is_fitted_again() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 520});
        owner.post("/shot-logs", &log).expect(201);
        let due = || {
            let due = owner.get("/due").expect(200);
            let due = due["data"].as_array().unwrap().iter();
            due.map(|one| (one["part"]["id"].clone(), one["bow"]["id"].clone())).collect::<Vec<_>>()
        };
        let waxing = vec![(json!(kit.string), json!(kit.bow))];
        assert_eq!(due(), waxing);
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        owner.post(&removal, &json!({"at": "2027-03-01T08:40:00Z"})).expect(200);
        let string = owner.get(&format!("/parts/{}", kit.string)).expect(200);
        assert_eq!(string["condition"], "due");
        assert_eq!(due(), []);
        let again = json!({"part_id": kit.string, "bow_id": kit.bow, "at": "2027-03-01T08:50:00Z"});
        owner.post("/fittings", &again).expect(201);
        assert_eq!(due(), waxing);
    });
}

/// The ids of the parts that are due, by the answer to a query.
fn due_parts(by: &Person, query: &str) -> Vec<String> {
    let due = by.get(&format!("/due{query}")).expect(200);
    let due = due["data"].as_array().unwrap().iter();
    due.map(|one| one["part"]["id"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn what_is_expected_is_told_by_the_shots_of_the_last_weeks() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::shot_evenly(owner, None);
        // Weeks that are all alike have no spread, so the three days are one.
        let change = |before: &str| {
            let due = owner.get(&format!("/due?before={before}")).expect(200);
            let due = due["data"].as_array().unwrap().clone();
            let string = due.into_iter().find(|one| one["part"]["id"] == json!(kit.string))?;
            let rules = string["part"]["rules"].as_array().unwrap().clone();
            let mut verdicts = rules.into_iter();
            Some((string, verdicts.find(|one| one["task"] == "change").unwrap()))
        };
        let (string, verdict) = change("2027-03-02").unwrap();
        // 15,000 - 800 = 14,200 shots left, 100 a week: 7 * 142 = 994 days from 1 March 2027.
        let day = json!("2029-11-19");
        let due_on = json!({"p10_on": day, "p50_on": day, "p90_on": day, "method": "recent_rate"});
        assert_eq!(verdict["due_on"], due_on, "{verdict}");
        // The first work on it is due already.
        assert_eq!(string["part"]["due_on"]["p50_on"], "2027-03-01", "{string}");
    });
}

#[test]
fn what_is_not_due_yet_is_listed_when_it_is_expected_before_a_day() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::shot_evenly(owner, None);
        // A serving of its own rule: 860 shots planned, 800 shot, so 60 left: 7 * 60 / 100 = 4.2.
        for rule in owner.get("/rules").expect(200)["data"].as_array().unwrap() {
            let path = format!("/rules/{}", rule["id"].as_str().unwrap());
            assert_eq!(owner.delete(&path, "*").status, 204);
        }
        let rule = json!({"part_kind": "center_serving", "task": "re_serve",
            "shots": {"plan": 860, "notice": 10}});
        owner.post("/rules", &rule).expect(201);
        assert_eq!(due_parts(owner, ""), [""; 0]);
        assert_eq!(due_parts(owner, "?before=2027-03-06"), [""; 0]);
        assert_eq!(due_parts(owner, "?before=2027-03-07"), [&*kit.serving]);
        let due = owner.get("/due?before=2027-03-07").expect(200);
        let part = &due["data"][0]["part"];
        assert_eq!(
            (&part["condition"], &part["due_on"]["p50_on"]),
            (&json!("sound"), &json!("2027-03-06"))
        );
        assert_eq!(part["rules"][0]["due_on"], part["due_on"]);
    });
}

#[test]
fn without_a_history_only_the_calendar_is_told() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 520});
        owner.post("/shot-logs", &log).expect(201);
        let due = owner.get("/due").expect(200);
        let rules = due["data"][0]["part"]["rules"].as_array().unwrap().clone();
        let due_on =
            |task: &str| rules.iter().find(|one| one["task"] == task).unwrap()["due_on"].clone();
        // Fitted on 28 February 2027: 36 months later it is out of use.
        let day = json!("2030-02-28");
        assert_eq!(
            due_on("change"),
            json!({"p10_on": day, "p50_on": day, "p90_on": day,
            "method": "recent_rate"})
        );
        assert_eq!(due_on("wax")["p50_on"], "2027-03-01");
        owner
            .patch(&format!("/rules/{}", change_rule(owner)), "*", &json!({"days": null}))
            .expect(200);
        let due = owner.get("/due").expect(200);
        let rules = due["data"][0]["part"]["rules"].as_array().unwrap().clone();
        let change = rules.iter().find(|one| one["task"] == "change").unwrap();
        assert_eq!(
            change["due_on"],
            json!({"p10_on": null, "p50_on": null, "p90_on": null,
            "method": "recent_rate"})
        );
    });
}

fn change_rule(by: &Person) -> String {
    let rules = by.get("/rules").expect(200);
    let rules = rules["data"].as_array().unwrap().iter();
    let mut changes = rules.filter(|rule| rule["task"] == "change");
    changes.next().unwrap()["id"].as_str().unwrap().to_owned()
}

#[test]
fn everybody_sees_what_is_due_on_the_bows_that_they_reach() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let (coach, other) = (club.coach("Runa Hollowell"), club.coach("Odo Fenwright"));
        let of_tobin = Kit::of(&club, owner, Some(tobin.id()));
        let of_ilse = Kit::of(&club, owner, Some(ilse.id()));
        let of_club = Kit::of(&club, owner, None);
        let squad = club.squad("Thursdays", &[&coach], &[&tobin]);
        let strings = |by: &Person, query: &str| {
            let mut strings: Vec<String> = due_parts(by, query);
            strings.sort();
            strings
        };
        let all = |kits: &[&Kit]| {
            let mut strings: Vec<String> = kits.iter().map(|kit| kit.string.clone()).collect();
            strings.sort();
            strings
        };
        assert_eq!(strings(owner, ""), all(&[&of_tobin, &of_ilse, &of_club]));
        assert_eq!(strings(&coach, ""), all(&[&of_tobin, &of_club]));
        assert_eq!(strings(&other, ""), all(&[&of_club]));
        assert_eq!(strings(&tobin, ""), all(&[&of_tobin]));
        let of_squad = format!("?squad_id={squad}");
        assert_eq!(strings(owner, &of_squad), all(&[&of_tobin]));
        assert_eq!(strings(&coach, &of_squad), all(&[&of_tobin]));
        for person in [&other, &tobin, &ilse] {
            person.get(&format!("/due{of_squad}")).problem(403);
        }
        let unknown = format!("/due?squad_id={}", uuid::Uuid::max());
        owner.get(&unknown).problem(404);
        tobin.get(&unknown).problem(404);
        club.neighbour().get(&format!("/due{of_squad}")).problem(404);
    });
}

#[test]
fn who_has_the_list_already_is_not_told_again() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let bearer = format!("Bearer {}", owner.token().unwrap());
        let ask = |tag: &str| {
            owner.get_with("/due", &[("authorization", &bearer), ("if-none-match", tag)])
        };
        let tag = owner.get("/due").header("etag").to_owned();
        assert!(tag.starts_with("W/\""), "{tag}");
        let again = ask(&tag);
        assert_eq!((again.status, again.header("etag"), again.body.len()), (304, &*tag, 0));
        assert_eq!(ask("W/\"another\"").status, 200);
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 520});
        owner.post("/shot-logs", &log).expect(201);
        let changed = ask(&tag);
        assert_eq!(changed.status, 200);
        assert_ne!(changed.header("etag"), tag);
    });
}

#[test]
fn a_query_that_cannot_be_is_refused() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        owner.get("/due?before=2027-02-29").refuses(422, "/before", "not_a_date");
        owner.get("/due?before=").refuses(422, "/before", "not_a_date");
        for query in ["squad_id=7", "limit=5", "before=2027-03-01&before=2027-03-02"] {
            assert_eq!(
                owner.get(&format!("/due?{query}")).problem(422)["errors"][0]["code"],
                "bad_query"
            );
            let query = query.replace("before", "event_id");
            assert_eq!(
                owner.get(&format!("/board?{query}")).problem(422)["errors"][0]["code"],
                "bad_query"
            );
        }
    });
}
