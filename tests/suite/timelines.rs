//! What happened to a part and to a bow, oldest first.

use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

fn entries(by: &Person, path: &str) -> Vec<Value> {
    by.get(path).expect(200)["data"].as_array().unwrap().clone()
}

fn texts(by: &Person, path: &str) -> Vec<String> {
    let line =
        |one: &Value| format!("{} {}", one["on"].as_str().unwrap(), one["text"].as_str().unwrap());
    entries(by, path).iter().map(line).collect()
}

/// A string that was shot on two days, dry fired, inspected, cleared and retired.
fn a_life(by: &Person, kit: &Kit) {
    for (at, shots) in [
        ("2027-02-28T10:00:00Z", 30),
        ("2027-02-28T15:00:00Z", 42),
        ("2027-03-01T07:00:00Z", 1_000),
    ] {
        by.post("/shot-logs", &json!({"bow_id": kit.bow, "at": at, "shots": shots})).expect(201);
    }
    let incident = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": "2027-03-01T07:30:00Z",
        "note": "the nock broke"});
    by.post("/incidents", &incident).expect(201);
    let look = json!({"part_id": kit.string, "task": "inspected", "at": "2027-03-01T08:00:00Z",
        "note": "no strand cut", "findings": [{"finding": "loop_wear", "grade": 1}]});
    by.post("/upkeep", &look).expect(201);
    let end = json!({"at": "2027-03-01T08:30:00Z", "end": "by_policy", "reason": "spare goes on"});
    by.post(&format!("/parts/{}/retirement", kit.string), &end).expect(200);
}

#[test]
fn a_string_and_its_bow_tell_what_happened() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        a_life(owner, &kit);
        let path = format!("/parts/{}/timeline", kit.string);
        let expected = [
            "2027-02-28 fitted to Grey recurve",
            "2027-02-28 72 shots in 2 logs with Grey recurve; 72 in all by the end of the day",
            "2027-03-01 1,000 shots in 1 log with Grey recurve; 1,072 in all by the end of the day",
            "2027-03-01 dry fire, of Grey recurve: the nock broke",
            "2027-03-01 must not be shot: dry fire on 2027-03-01",
            "2027-03-01 inspected: loop wear (light), and cleared: no strand cut",
            "2027-03-01 may be shot again, cleared of: dry fire on 2027-03-01",
            "2027-03-01 taken off Grey recurve",
            "2027-03-01 retired, by policy: spare goes on",
        ];
        assert_eq!(texts(owner, &path), expected);
        let all = entries(owner, &path);
        let shots = json!({"at": "2027-02-28T15:00:00Z", "on": "2027-02-28", "kind": "shots",
            "text": all[1]["text"], "bow_id": kit.bow, "shots": 72, "logs": 2, "shots_by_then": 72});
        assert_eq!(all[1], shots);
        assert_eq!(all[5]["findings"], json!([{"finding": "loop_wear", "grade": 1}]));
        assert_eq!((&all[6]["kind"], &all[6]["causes"]), (&json!("lifted"), &json!(["dry_fire"])));
        let kinds: Vec<Value> = entries(owner, &format!("/bows/{}/timeline", kit.bow))
            .into_iter()
            .map(|one| one["kind"].clone())
            .collect();
        let of_bow = ["fitted", "shots", "shots", "incident", "stopped", "lifted", "taken_off"];
        assert_eq!(kinds, of_bow);
    });
}

#[test]
fn a_timeline_is_read_from_day_to_day() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        a_life(owner, &kit);
        for path in
            [format!("/parts/{}/timeline", kit.string), format!("/bows/{}/timeline", kit.bow)]
        {
            let all = entries(owner, &path);
            let days = |query: &str| entries(owner, &format!("{path}?{query}"));
            let early = days("until=2027-02-28");
            let late = days("from=2027-03-01");
            assert_eq!((early.len(), [early, late].concat()), (2, all.clone()));
            assert_eq!(days("from=2027-02-28&until=2027-03-01"), all);
            assert!(days("from=2027-03-02").is_empty());
            let ask = |query: &str| owner.get(&format!("{path}?{query}"));
            ask("from=2027-03-02&until=2027-03-01").refuses(422, "/until", "before_from");
            ask("from=2027-02-30").refuses(422, "/from", "not_a_date");
            ask("until=1969-12-31").refuses(422, "/until", "out_of_range");
            ask("since=2027-03-01").refuses(422, "/since", "bad_query");
        }
    });
}

#[test]
fn an_archer_is_told_nothing_of_the_bow_that_a_part_was_on_before() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let kit = Kit::of(&club, club.owner(), Some(ilse.id()));
        let soaked = json!({"bow_id": kit.bow, "kind": "soaked", "at": "2027-03-01T07:00:00Z",
            "note": "left in the rain by Ilse"});
        ilse.post("/incidents", &soaked).expect(201);
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        ilse.post(&removal, &json!({"at": "2027-03-01T08:00:00Z"})).expect(200);
        let bow = Kit::bow(club.owner(), Some(tobin.id()));
        let fitting = json!({"part_id": kit.string, "bow_id": bow, "at": "2027-03-01T08:00:00Z"});
        club.owner().post("/fittings", &fitting).expect(201);
        let path = format!("/parts/{}/timeline", kit.string);
        let expected = [
            "2027-02-28 fitted to another bow",
            "2027-03-01 soaking, of another bow",
            "2027-03-01 taken off another bow",
            "2027-03-01 fitted to Grey recurve",
        ];
        assert_eq!(texts(&tobin, &path), expected);
        ilse.get(&path).problem(403);
        tobin.get(&format!("/bows/{}/timeline", kit.bow)).problem(403);
    });
}

#[test]
fn what_came_off_a_string_stays_with_the_bow_it_was_shot_on() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let kit = Kit::of(&club, club.owner(), Some(ilse.id()));
        let d_loop = Kit::part(club.owner(), "d_loop");
        let riding = json!({"part_id": d_loop, "host_part_id": kit.string,
            "at": "2027-02-28T12:00:00Z"});
        let riding = club.owner().post("/fittings", &riding).expect(201);
        let removal = format!("/fittings/{}/removal", riding["id"].as_str().unwrap());
        ilse.post(&removal, &json!({"at": "2027-03-01T07:00:00Z"})).expect(200);
        // Only then the string goes to another archer's bow.
        let removal = format!("/fittings/{}/removal", kit.string_fitting);
        ilse.post(&removal, &json!({"at": "2027-03-01T08:00:00Z"})).expect(200);
        let bow = Kit::bow(club.owner(), Some(tobin.id()));
        let fitting = json!({"part_id": kit.string, "bow_id": bow, "at": "2027-03-01T08:00:00Z"});
        club.owner().post("/fittings", &fitting).expect(201);
        for path in [format!("/parts/{d_loop}"), format!("/parts/{d_loop}/timeline")] {
            ilse.get(&path).expect(200);
            tobin.get(&path).problem(403);
        }
        // The serving went along with the string.
        let serving = format!("/parts/{}", kit.serving);
        tobin.get(&serving).expect(200);
        ilse.get(&serving).problem(403);
    });
}
