//! One shooting that was logged twice: people are told, nothing is merged by itself, and what they merge
//! stays on record.

use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

const AT: &str = "2027-03-01T08:30:00Z";
const HINT: &str = "possible_duplicate";

#[track_caller]
fn log(by: &Person, bow: &str, at: &str, shots: u32) -> Value {
    by.post("/shot-logs", &json!({"bow_id": bow, "at": at, "shots": shots})).expect(201)
}

fn id(logged: &Value) -> String {
    logged["shot_log"]["id"].as_str().unwrap().to_owned()
}

fn hinted(logged: &Value) -> bool {
    logged["flags"].as_array().unwrap().contains(&json!(HINT))
}

/// The pairs of a list, each by its two ids.
#[track_caller]
fn pairs(by: &Person, query: &str) -> Vec<[String; 2]> {
    let list = by.get(&format!("/shot-logs/possible-duplicates?{query}")).expect(200);
    let one = |pair: &Value| {
        ["first", "second"].map(|name| pair[name]["id"].as_str().unwrap().to_owned())
    };
    list["data"].as_array().unwrap().iter().map(one).collect()
}

#[test]
fn whoever_logs_what_may_be_logged_already_is_told_and_both_count() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Ana Invented"));
        let (kit, other) = (Kit::of(&club, owner, Some(archer.id())), Kit::of(&club, owner, None));
        assert!(!hinted(&log(&archer, &kit.bow, AT, 72)));
        assert!(!hinted(&log(owner, &kit.bow, AT, 71)), "other shots");
        assert!(!hinted(&log(owner, &other.bow, AT, 72)), "another bow");
        assert!(!hinted(&log(owner, &kit.bow, "2027-02-28T22:30:00Z", 72)), "the day before");
        assert!(!hinted(&log(&archer, &kit.bow, "2027-03-01T06:00:00Z", 72)), "shot again");
        assert!(hinted(&log(&archer, &kit.bow, "2027-03-01T08:00:00Z", 72)), "at that time");
        assert!(hinted(&log(owner, &kit.bow, "2027-03-01T01:00:00Z", 72)), "by the coach");
        assert_eq!(Kit::shots(owner, &kit.string), 72 * 5 + 71);
        // The same entry sent again is no other one.
        let sent = json!({"id": "0195aaaa-0000-7000-8000-000000000001", "bow_id": kit.bow,
            "at": AT, "shots": 33});
        for _ in 0..2 {
            assert!(!hinted(&owner.post("/shot-logs", &sent).json()));
        }
        let entry = json!({"bow_id": kit.bow, "at": AT, "shots": 33});
        let batch = json!({"mode": "each", "entries": [sent, entry]});
        let results = archer.post("/shot-logs/batch", &batch).expect(200)["results"].clone();
        assert_eq!(
            (&results[0]["outcome"], &results[1]["flags"]),
            (&json!("again"), &json!([HINT]))
        );
    });
}

#[test]
fn a_correction_hints_too_and_what_is_void_is_no_duplicate() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Ana Invented"));
        let kit = Kit::of(&club, owner, Some(archer.id()));
        let (first, second) = (log(&archer, &kit.bow, AT, 72), log(owner, &kit.bow, AT, 27));
        let path = format!("/shot-logs/{}", id(&second));
        let corrected = owner.patch(&path, "*", &json!({"shots": 72})).expect(200);
        assert!(hinted(&corrected));
        // The correction was entered by the owner, and so was its log: it does not repeat itself.
        assert_eq!(pairs(owner, ""), [[id(&first), id(&second)]]);
        owner.delete(&format!("/shot-logs/{}", id(&first)), "*").expect(200);
        assert!(pairs(owner, "").is_empty());
        assert!(!hinted(&owner.patch(&path, "*", &json!({"note": "alone"})).expect(200)));
    });
}

#[test]
fn pairs_are_listed_to_whoever_may_look_after_the_bow_by_the_clubs_days() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (ana, ben) = (club.archer("Ana Invented"), club.archer("Ben Invented"));
        let (hers, his) =
            (Kit::of(&club, owner, Some(ana.id())), Kit::of(&club, owner, Some(ben.id())));
        let hers_twice =
            [log(&ana, &hers.bow, AT, 72), log(owner, &hers.bow, AT, 72)].map(|one| id(&one));
        let before = "2027-02-20T10:00:00Z";
        let his_twice =
            [log(&ben, &his.bow, before, 60), log(&ben, &his.bow, before, 60)].map(|one| id(&one));
        let mut both = pairs(owner, "");
        both.sort();
        let mut expected = [hers_twice.clone(), his_twice.clone()];
        expected.sort();
        assert_eq!(both, expected);
        assert_eq!(pairs(&ana, ""), vec![hers_twice.clone()]);
        assert_eq!(pairs(&ben, &format!("bow_id={}", his.bow)), vec![his_twice.clone()]);
        assert_eq!(pairs(owner, "from=2027-03-01"), vec![hers_twice.clone()]);
        assert_eq!(pairs(owner, "until=2027-02-28"), vec![his_twice.clone()]);
        assert_eq!(pairs(owner, "from=2027-02-20&until=2027-02-20"), [his_twice]);
        assert!(pairs(owner, "from=2027-02-21&until=2027-02-28").is_empty());
        let path = "/shot-logs/possible-duplicates";
        ana.get(&format!("{path}?bow_id={}", his.bow)).problem(403);
        club.neighbour().get(&format!("{path}?bow_id={}", his.bow)).problem(404);
        let refused = |query: &str, pointer: &str, code: &str| {
            owner.get(&format!("{path}?{query}")).refuses(422, pointer, code);
        };
        refused("from=2027-01-01&until=2027-04-03", "/until", "out_of_range");
        refused("from=2027-01-02&until=2027-01-01", "/until", "before_from");
        refused("from=soon", "/from", "not_a_date");
        owner.get(&format!("{path}?from=2027-01-01&until=2027-04-02")).expect(200);
        owner.get(&format!("{path}?limit=3")).problem(422);
        owner.post(path, &json!({})).problem(405);
    });
}

#[test]
fn a_log_is_merged_into_the_other_once_and_names_it() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Ana Invented"));
        let kit = Kit::of(&club, owner, Some(archer.id()));
        let (by_archer, by_coach) = (log(&archer, &kit.bow, AT, 72), log(owner, &kit.bow, AT, 72));
        let (goes, stays) = (id(&by_coach), id(&by_archer));
        let path = format!("/shot-logs/{goes}/merge");
        let into = json!({"into_id": stays});
        owner.post(&path, &into).problem(428);
        owner.post_of(&path, "\"2\"", &into).problem(412);
        // Whose log goes has to agree; the archer did not enter it.
        archer.post_of(&path, "*", &into).problem(403);
        let answer = owner.post_of(&path, "\"1\"", &into);
        let merged = answer.expect(200);
        assert_eq!((&merged["shot_log"], answer.header("etag")), (&by_archer["shot_log"], "\"1\""));
        assert!(!hinted(&merged));
        assert_eq!(merged["parts"][0]["wear"]["shots"], 72);
        assert_eq!(Kit::shots(owner, &kit.string), 72);
        assert!(pairs(owner, "").is_empty());
        owner.get(&format!("/shot-logs/{goes}")).problem(404);
        owner.post_of(&path, "*", &into).problem(404);
        // And not the other way round as well: one of them counts.
        let back = format!("/shot-logs/{stays}/merge");
        let refused = owner.post_of(&back, "*", &json!({"into_id": goes}));
        refused.refuses(422, "/into_id", "unknown_log");
        let named = "SELECT CAST(COUNT(*) AS TEXT) AS text FROM shot_logs \
            WHERE merged_into_id IS NOT NULL AND void AND NOT counts";
        assert_eq!(database.texts(named), ["1"]);
        let record = owner.get(&format!("/audit?subject_id={goes}")).expect(200)["data"][0].clone();
        assert_eq!(record["operation"], "merge_shot_log");
        let changed = json!([{"field": "merged_into_id", "from": null, "to": stays}]);
        assert_eq!(record["changed"], changed);
    });
}

#[test]
fn a_log_is_merged_into_nothing_else() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (kit, other) = (Kit::of(&club, owner, None), Kit::of(&club, owner, None));
        let stranger = club.neighbour();
        let foreign = Kit::of(&club, &stranger, None);
        let (one, elsewhere) = (log(owner, &kit.bow, AT, 72), log(owner, &other.bow, AT, 72));
        let theirs = log(&stranger, &foreign.bow, AT, 72);
        let path = format!("/shot-logs/{}/merge", id(&one));
        for (into, code) in [
            (json!(id(&one)), "same_log"),
            (json!(id(&elsewhere)), "other_bow"),
            (json!(id(&theirs)), "unknown_log"),
            (json!("0195aaaa-0000-7000-8000-000000000001"), "unknown_log"),
            (json!("x"), "wrong_type"),
            (json!(null), "wrong_type"),
        ] {
            owner.post_of(&path, "*", &json!({"into_id": into})).refuses(422, "/into_id", code);
        }
        owner.post_of(&path, "*", &json!({})).refuses(422, "/into_id", "missing");
        let more = json!({"into_id": id(&elsewhere), "shots": 1});
        owner.post_of(&path, "*", &more).refuses(422, "/shots", "unknown_field");
        stranger.post_of(&path, "*", &json!({"into_id": id(&theirs)})).problem(404);
        assert_eq!(Kit::shots(owner, &kit.string), 72);
    });
}
