//! What parts are looked over for, which work belongs to which part, and what a bow lacks.

use domain::safety;
use serde_json::{Value, json};

use crate::support::{Club, Kit, on_both};

const AT: &str = "2027-03-01T08:00:00Z";

#[test]
fn a_checklist_says_in_plain_words_what_to_look_for_and_what_follows() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Tobin Larkmoor");
        let all = archer.get("/checklists").expect(200);
        let kinds = all["data"].as_array().unwrap().iter().map(|list| &list["kind"]);
        assert_eq!(kinds.count(), domain::parts::PartKind::ALL.len());
        let grades = json!([
            {"grade": 0, "word": "none", "meaning": "looked for, and not there"},
            {"grade": 1, "word": "light", "meaning": "nothing to do"},
            {"grade": 2, "word": "marked", "meaning": "mend it soon"},
            {"grade": 3, "word": "unsafe", "meaning": "do not shoot"},
        ]);
        assert_eq!(all["grades"], grades);
        let one = archer.get("/checklists?kind=end_serving").expect(200);
        assert_eq!(one["caution"], safety::FIRST);
        let list = json!([{
            "kind": "end_serving",
            "findings": [
                {"finding": "serving_separation",
                    "phrase": "serving come apart, so that the strands show through"},
                {"finding": "serving_slipped", "phrase": "serving slid along the string"},
                {"finding": "other", "phrase": "anything else that is not as it was"},
            ],
            "tasks": ["inspected", "re_served", "other"],
        }]);
        assert_eq!(one["data"], list);
        archer.get("/checklists?kind=sails").refuses(422, "/kind", "unknown_word");
        archer.get("/checklists?part=limbs").refuses(422, "/part", "bad_query");
    });
}

#[test]
fn every_checklist_is_taken_as_it_is_given_and_nothing_else_is() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let lists = owner.get("/checklists").expect(200)["data"].clone();
        let lists = lists.as_array().unwrap();
        let all: Vec<&Value> =
            lists.iter().flat_map(|one| one["findings"].as_array().unwrap()).collect();
        for list in lists {
            let part = Kit::part(owner, list["kind"].as_str().unwrap());
            let own = list["findings"].as_array().unwrap();
            let found = |one: &&Value| json!({"finding": one["finding"], "grade": 1});
            let given: Vec<Value> = own.iter().map(|one| found(&one)).collect();
            let look = |findings: Vec<Value>| {
                owner.post(
                    "/upkeep",
                    &json!({"part_id": part, "task": "inspected", "at": AT,
                    "findings": findings}),
                )
            };
            look(given.clone()).expect(201);
            if let Some(other) = all.iter().find(|one| !own.contains(one)) {
                let more = [given, vec![found(other)]].concat();
                let pointer = format!("/findings/{}/finding", own.len());
                let refused = look(more);
                refused.refuses(422, &pointer, "wrong_finding");
                let last = own[own.len() - 1]["finding"].as_str().unwrap();
                assert!(refused.json()["errors"][0]["detail"].as_str().unwrap().contains(last));
            }
        }
    });
}

#[test]
fn work_is_taken_only_on_the_parts_it_is_done_on() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let tasks = ["waxed", "re_served", "nocking_point_set", "brace_height_set"];
        for (kind, done) in [
            ("string", "waxed nocking_point_set brace_height_set"),
            ("cable", "waxed"),
            ("center_serving", "re_served"),
            ("end_serving", "re_served"),
            ("nocking_point", "nocking_point_set"),
            ("limbs", ""),
            ("cams", ""),
            ("other", ""),
        ] {
            for task in tasks {
                let work = json!({"part_id": Kit::part(owner, kind), "task": task, "at": AT});
                let answer = owner.post("/upkeep", &work);
                if done.split(' ').any(|one| one == task) {
                    answer.expect(201);
                } else {
                    answer.refuses(422, "/task", "wrong_task");
                }
            }
            let other = json!({"part_id": Kit::part(owner, kind), "task": "other", "at": AT});
            owner.post("/upkeep", &other).expect(201);
        }
    });
}

#[test]
fn a_bow_says_what_it_lacks_to_be_shot() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let missing = |bow: &str| {
            let board = owner.get("/board").expect(200);
            let rows = board["data"].as_array().unwrap().iter();
            let row = rows.into_iter().find(|row| row["bow"]["id"] == json!(bow)).unwrap();
            let bow = owner.get(&format!("/bows/{bow}")).expect(200);
            assert_eq!(row["missing_parts"], bow["missing_parts"]);
            row["missing_parts"].clone()
        };
        assert_eq!(missing(&kit.bow), json!([]));
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        owner.post(&removal, &json!({"at": AT})).expect(200);
        assert_eq!(missing(&kit.bow), json!(["string", "center_serving"]));
        let compound = json!({"name": "Wheels", "division": "compound", "bow_length_in": 38,
            "draw_weight_lbf": 50});
        let compound =
            owner.post("/bows", &compound).expect(201)["id"].as_str().unwrap().to_owned();
        for kind in ["string", "cams"] {
            let part = Kit::part(owner, kind);
            let fitting = json!({"part_id": part, "bow_id": compound, "at": AT});
            owner.post("/fittings", &fitting).expect(201);
        }
        let lacks = json!(["center_serving", "cable", "peep", "d_loop"]);
        assert_eq!(missing(&compound), lacks);
    });
}
