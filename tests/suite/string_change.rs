//! A string change in one request: all of it, once, or nothing.

use serde_json::{Value, json};

use crate::support::{Club, Kit, on_both};

const AT: &str = "2027-03-01T08:00:00Z";

fn whole() -> Value {
    json!({
        "at": AT,
        "new_part": {"name": "Red 20-strand", "material": "HMPE", "strands": 20,
            "made_on": "2027-02-20", "unit_cost": 18.5},
        "old": {"end": "by_policy", "reason": "limit reached"},
        "servings": [{"name": "Center"}, {"kind": "end_serving", "name": "Upper loop"}],
        "nocking_point": {"measured_mm": 3.5, "note": "tied"},
        "setup": {"brace_height_mm": 222.5, "note": "from the throat of the grip"},
    })
}

#[test]
fn an_archer_changes_the_string_of_their_own_bow_in_one_go() {
    on_both(|database| {
        let club = Club::start(database);
        let (archer, other) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let log = |at: &str| json!({"bow_id": kit.bow, "at": at, "shots": 30});
        archer.post("/shot-logs", &log("2027-03-01T07:30:00Z")).expect(201);
        archer.post("/shot-logs", &log("2027-03-01T08:00:00Z")).expect(201);
        let path = format!("/bows/{}/string-change", kit.bow);
        other.post(&path, &whole()).problem(403);
        let changed = archer.post_once(&path, "monday", &whole()).expect(201);
        assert_eq!(archer.post_once(&path, "monday", &whole()).expect(201), changed);
        assert_eq!(changed["old_part"]["id"], json!(kit.string));
        assert_eq!(changed["old_part"]["retirement"]["end"], "by_policy");
        assert_eq!(changed["old_part"]["wear"]["shots"], 30);
        let new = &changed["new_part"];
        assert_eq!((&new["bow_id"], &new["wear"]["shots"]), (&json!(kit.bow), &json!(30)));
        assert_eq!((&new["strands"], &new["condition"]), (&json!(20), &json!("settling")));
        let kinds: Vec<&Value> =
            changed["servings"].as_array().unwrap().iter().map(|one| &one["kind"]).collect();
        assert_eq!(kinds, ["center_serving", "end_serving"]);
        let works = |part: &Value| {
            let part = part["id"].as_str().unwrap();
            let listed = archer.get(&format!("/upkeep?part_id={part}")).expect(200);
            let works = listed["data"].as_array().unwrap().clone();
            let mut works: Vec<(String, Value)> = works
                .iter()
                .map(|work| (work["task"].as_str().unwrap().into(), work["measured_mm"].clone()))
                .collect();
            works.sort_by(|a, b| a.0.cmp(&b.0));
            works
        };
        assert_eq!(works(&changed["old_part"]), [("replaced".to_owned(), Value::Null)]);
        let set = [("brace_height_set", json!(222.5)), ("nocking_point_set", json!(3.5))];
        assert_eq!(works(new), set.map(|(task, mm)| (task.to_owned(), mm)));
        let stays = archer.get(&format!("/fittings?bow_id={}", kit.bow)).expect(200);
        let stays = stays["data"].as_array().unwrap();
        assert_eq!(stays.len(), 2, "once only: {stays:?}");
        assert_eq!((&stays[0]["to"], &stays[1]["to"]), (&json!(AT), &Value::Null));
    });
}

#[test]
fn a_kept_string_goes_back_on_and_a_bare_bow_gets_its_first() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let bow = Kit::bow(owner, None);
        let string = Kit::part(owner, "string");
        let path = format!("/bows/{bow}/string-change");
        let change =
            |at: &str, part: &Value| owner.post(&path, &json!({"at": at, "new_part_id": part}));
        let first = change("2027-03-01T07:00:00Z", &json!(string)).expect(201);
        assert_eq!(first["old_part"], Value::Null);
        let body = json!({"at": "2027-03-01T08:00:00Z", "new_part": {"name": "Another"}});
        let second = owner.post(&path, &body).expect(201);
        assert_eq!(second["old_part"]["retirement"], Value::Null, "kept, not retired");
        let third = change("2027-03-01T08:30:00Z", &json!(string)).expect(201);
        assert_eq!(third["old_part"]["id"], second["new_part"]["id"]);
        assert_eq!(third["new_part"]["bow_id"], json!(bow));
    });
}

#[test]
fn a_change_that_cannot_be_changes_nothing() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (kit, other) = (Kit::of(&club, owner, None), Kit::of(&club, owner, None));
        let (bare, rest) = (Kit::bow(owner, None), Kit::part(owner, "rest"));
        let retired = Kit::part(owner, "string");
        let end = json!({"at": AT, "end": "lost", "reason": "gone"});
        owner.post(&format!("/parts/{retired}/retirement"), &end).expect(200);
        let counts = || {
            let sql = |table: &str| format!("SELECT CAST(COUNT(*) AS TEXT) AS text FROM {table}");
            let tables = ["parts", "fittings", "upkeep", "stops", "repeatable_requests"];
            tables.map(|table| database.texts(&sql(table)))
        };
        let before = counts();
        let path = format!("/bows/{}/string-change", kit.bow);
        let known = |part: &str| json!({"at": AT, "new_part_id": part});
        owner.post(&path, &json!({"at": AT})).refuses(422, "/new_part", "missing");
        let both = json!({"at": AT, "new_part_id": rest, "new_part": {"name": "x"}});
        owner.post(&path, &both).refuses(422, "/new_part", "two_strings");
        owner.post(&path, &known(&rest)).refuses(422, "/new_part_id", "not_a_string");
        owner.post(&path, &known(&retired)).refuses(409, "", "part_retired");
        owner.post(&path, &known(&other.string)).refuses(409, "", "part_fitted_elsewhere");
        owner.post(&path, &known(&kit.string)).refuses(409, "", "part_fitted_elsewhere");
        let mut early = whole();
        early["at"] = json!("2027-02-28T09:00:00Z");
        owner.post(&path, &early).refuses(422, "/at", "before_fitted");
        let mut crowded = whole();
        crowded["servings"] = json!([{"name": "one"}, {"name": "two"}]);
        owner.post(&path, &crowded).refuses(409, "", "host_occupied");
        let mut many = whole();
        many["servings"] = json!(vec![json!({"kind": "end_serving", "name": "x"}); 11]);
        owner.post(&path, &many).refuses(422, "/servings", "too_many");
        let note_only =
            json!({"at": AT, "new_part": {"name": "x"}, "setup": {"note": "as before"}});
        owner.post(&path, &note_only).refuses(422, "/setup/brace_height_mm", "missing");
        owner.post(&format!("/bows/{bare}/string-change"), &whole()).refuses(
            422,
            "/old",
            "no_string_fitted",
        );
        owner.post_once(&path, "k", &known(&rest)).refuses(422, "/new_part_id", "not_a_string");
        assert_eq!(counts(), before);
        owner.post(&path, &whole()).expect(201);
    });
}
