//! Events: entering, changing and calling them off, and who goes to them with which bow.

use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

const NOBODY: &str = "01950000-0000-7000-8000-0000000000ff";

fn cup() -> Value {
    json!({"name": "Invented Cup", "starts_on": "2027-06-12", "ends_on": "2027-06-13",
        "priority": "major", "arrows_expected": 144, "blocked_days": ["2027-06-12", "2027-06-11"]})
}

/// Enters an event; its address.
#[track_caller]
fn entered(by: &Person, body: &Value) -> String {
    let event = by.post("/events", body).expect(201);
    format!("/events/{}", event["id"].as_str().unwrap())
}

fn with(name: &str, value: impl Into<Value>) -> Value {
    let mut body = cup();
    body[name] = value.into();
    body
}

fn entry(person: &Person, bow: &str, spare: Option<&str>) -> Value {
    json!({"member_id": person.id().0, "bow_id": bow, "spare_part_id": spare})
}

/// Puts entries in the place of those that an event has.
#[track_caller]
fn put(by: &Person, event: &str, version: &str, entries: &[Value]) -> crate::support::Answer {
    by.put(&format!("{event}/entries"), version, &json!({"entries": entries}))
}

#[test]
fn an_event_is_entered_read_changed_and_called_off() {
    on_both(|database| {
        let club = Club::start(database);
        let (coach, archer) = (club.coach("Ferin Oakstave"), club.archer("Tobin Larkmoor"));
        let answer = coach.post("/events", &cup());
        let event = answer.expect(201);
        let path = format!("/events/{}", event["id"].as_str().unwrap());
        assert_eq!(answer.header("location"), format!("/api/v1{path}"));
        assert_eq!(answer.header("etag"), "\"1\"");
        assert_eq!(event["blocked_days"], json!(["2027-06-11", "2027-06-12"]));
        assert_eq!(event["created_by_member_id"], json!(coach.id().0));
        assert_eq!((&event["cancelled_at"], &event["entries"]), (&Value::Null, &json!([])));
        let read = archer.get(&path);
        assert_eq!((read.expect(200), read.header("etag")), (event, "\"1\""));

        let later = json!({"starts_on": "2027-06-19", "ends_on": "2027-06-20", "blocked_days": null,
            "priority": "regular", "arrows_expected": 72});
        coach.patch(&path, "", &later).problem(428);
        coach.patch(&path, "\"2\"", &later).problem(412);
        let answer = coach.patch(&path, "\"1\"", &later);
        let changed = answer.expect(200);
        assert_eq!(answer.header("etag"), "\"2\"");
        let dates = [&changed["starts_on"], &changed["ends_on"], &changed["name"]];
        assert_eq!(dates, ["2027-06-19", "2027-06-20", "Invented Cup"]);
        assert_eq!(changed["blocked_days"], json!([]));
        assert_eq!(
            (&changed["priority"], &changed["arrows_expected"]),
            (&json!("regular"), &json!(72))
        );

        coach.delete(&path, "").problem(428);
        coach.delete(&path, "\"1\"").problem(412);
        assert_eq!(coach.delete(&path, "\"2\"").status, 204);
        let off = archer.get(&path).expect(200);
        assert_eq!(
            (&off["cancelled_at"], &off["name"]),
            (&json!(club.now()), &json!("Invented Cup"))
        );
        coach.patch(&path, "\"3\"", &later).refuses(409, "", "called_off");
        coach.delete(&path, "\"3\"").refuses(409, "", "called_off");
        put(&coach, &path, "\"3\"", &[]).refuses(409, "", "called_off");
        assert_eq!(coach.get(&path).header("etag"), "\"3\"");
    });
}

#[test]
fn an_event_that_comes_again_is_entered_once() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let first = owner.post_once("/events", "cup-2027", &cup());
        let again = owner.post_once("/events", "cup-2027", &cup());
        assert_eq!(first.expect(201), again.expect(201));
        assert_eq!(again.header("etag"), "\"1\"");
        assert_eq!(owner.get("/events").expect(200)["data"].as_array().unwrap().len(), 1);
    });
}

#[test]
fn a_list_begins_where_it_is_asked_to_and_leaves_out_what_was_called_off() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let of = |starts_on: &str, ends_on: &str| {
            let mut body = with("ends_on", ends_on);
            body["starts_on"] = json!(starts_on);
            body["blocked_days"] = json!([]);
            entered(owner, &body)
        };
        let over = of("2027-01-09", "2027-01-10");
        let off = of("2027-05-01", "2027-05-01");
        let last = of("2027-09-04", "2027-09-05");
        let next = of("2027-02-28", "2027-03-01");
        assert_eq!(owner.delete(&off, "\"1\"").status, 204);
        let listed = |query: &str| -> Vec<String> {
            let page = owner.get(&format!("/events{query}")).expect(200);
            let rows = page["data"].as_array().unwrap().iter();
            rows.map(|row| format!("/events/{}", row["id"].as_str().unwrap())).collect()
        };
        assert_eq!(listed(""), [&over[..], &last, &next]);
        assert_eq!(listed("?from=2027-03-01"), [&last[..], &next]);
        assert_eq!(listed("?from=2027-03-02"), [&last[..]]);
        assert_eq!(listed("?called_off=true"), [&over[..], &off, &last, &next]);
        assert_eq!(listed("?from=2027-03-02&called_off=true&limit=1"), [&off[..]]);
        owner.get("/events?from=March").refuses(422, "/from", "not_a_date");
        owner.get("/events?from=1066-10-14").refuses(422, "/from", "out_of_range");
        owner.get("/events?called_off=maybe").problem(422);
        owner.get("/events?since=2027-03-02").refuses(422, "/since", "bad_query");
    });
}

#[test]
fn dates_and_days_that_cannot_be_are_refused() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let faults = [
            ("ends_on", json!("2027-06-11"), "/ends_on", "ends_before_it_starts"),
            ("ends_on", json!("2027-08-12"), "/ends_on", "too_long"),
            ("ends_on", json!("2027-06-31"), "/ends_on", "not_a_date"),
            ("starts_on", json!("2027-06-12T10:00:00Z"), "/starts_on", "not_a_date"),
            ("starts_on", json!("1066-10-14"), "/starts_on", "out_of_range"),
            ("starts_on", Value::Null, "/starts_on", "wrong_type"),
            ("priority", json!("Major"), "/priority", "unknown_word"),
            ("arrows_expected", json!(-1), "/arrows_expected", "out_of_range"),
            ("arrows_expected", json!(5_001), "/arrows_expected", "out_of_range"),
            ("arrows_expected", json!(i64::MAX), "/arrows_expected", "out_of_range"),
            ("arrows_expected", json!(14.4), "/arrows_expected", "wrong_type"),
            (
                "blocked_days",
                json!(["2027-06-11", "2027-04-12"]),
                "/blocked_days/1",
                "out_of_range",
            ),
            ("blocked_days", json!(["2027-06-14"]), "/blocked_days/0", "out_of_range"),
            ("blocked_days", json!(["Friday"]), "/blocked_days/0", "not_a_date"),
            ("blocked_days", json!(vec!["2027-06-11"; 61]), "/blocked_days", "too_many"),
            ("name", json!("Cup\r\nBcc: all@club.example"), "/name", "control_character"),
            ("member", json!("me"), "/member", "unknown_field"),
        ];
        let path = entered(owner, &cup());
        for (field, value, pointer, code) in &faults {
            owner.post("/events", &with(field, value.clone())).refuses(422, pointer, code);
            let change = json!({*field: value});
            owner.patch(&path, "\"1\"", &change).refuses(422, pointer, code);
        }
        // The days that stay have to fit the new dates.
        let later = json!({"starts_on": "2027-09-04", "ends_on": "2027-09-05"});
        owner.patch(&path, "\"1\"", &later).refuses(422, "/blocked_days", "out_of_range");
        assert_eq!(owner.get(&path).header("etag"), "\"1\"");
        assert_eq!(owner.get("/events").expect(200)["data"].as_array().unwrap().len(), 1);
        // What lies at the very ends of the ranges is taken; a day that is named twice is one day.
        let mut widest = with("ends_on", "2027-08-11");
        widest["blocked_days"] = json!(["2027-04-13", "2027-08-11", "2027-04-13"]);
        widest["arrows_expected"] = json!(5_000);
        let widest = owner.post("/events", &widest).expect(201);
        assert_eq!(widest["blocked_days"], json!(["2027-04-13", "2027-08-11"]));
    });
}

#[test]
fn entries_take_the_place_of_all_before() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let bow = Kit::bow(owner, Some(tobin.id()));
        let lent = Kit::bow(owner, None);
        let spare = Kit::part(owner, "string");
        let path = entered(owner, &cup());
        put(owner, &path, "", &[]).problem(428);
        put(owner, &path, "\"7\"", &[]).problem(412);
        let both = [entry(&tobin, &bow, Some(&spare)), entry(&ilse, &lent, None)];
        let answer = put(owner, &path, "\"1\"", &both);
        assert_eq!(
            (&answer.expect(200)["entries"], answer.header("etag")),
            (&json!(both), "\"2\"")
        );
        assert_eq!(ilse.get(&path).expect(200)["entries"], json!(both));
        // Changing the event leaves its entries as they are.
        let named = owner.patch(&path, "\"2\"", &json!({"name": "Invented Shield"})).expect(200);
        assert_eq!(named["entries"], json!(both));
        let one = [entry(&ilse, &bow, None)];
        let answer = put(owner, &path, "\"3\"", &one).expect(200);
        assert_eq!((&answer["entries"], &answer["name"]), (&json!(one), &json!("Invented Shield")));
        assert_eq!(put(owner, &path, "*", &[]).expect(200)["entries"], json!([]));
    });
}

#[test]
fn entries_that_name_what_is_not_there_are_refused_by_their_place() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let stranger = club.neighbour();
        let bow = Kit::bow(owner, None);
        let (string, serving) = (Kit::part(owner, "string"), Kit::part(owner, "center_serving"));
        let their_bow = Kit::bow(&stranger, None);
        let their_string = Kit::part(&stranger, "string");
        let retired = Kit::part(owner, "string");
        let end = json!({"at": club.now(), "end": "worn", "reason": "fuzzy"});
        owner.post(&format!("/parts/{retired}/retirement"), &end).expect(200);
        let gone = club.archer("Odo Fenwright");
        let left = owner.get(&format!("/members/{}", gone.id()));
        let left = owner.delete(&format!("/members/{}", gone.id()), left.header("etag"));
        assert_eq!(left.status, 204, "{left}");
        let path = entered(owner, &cup());
        let good = entry(owner, &bow, Some(&string));
        let refused = |bad: Value, field: &str, code: &str| {
            let second = Kit::bow(owner, None);
            let entries = [entry(owner, &second, None), bad];
            let pointer = format!("/entries/1{field}");
            put(owner, &path, "\"1\"", &entries).refuses(422, &pointer, code);
        };
        let mut nobody = good.clone();
        nobody["member_id"] = json!(NOBODY);
        refused(nobody, "/member_id", "unknown_member");
        refused(entry(&stranger, &bow, None), "/member_id", "unknown_member");
        refused(entry(&gone, &bow, None), "/member_id", "unknown_member");
        refused(entry(owner, NOBODY, None), "/bow_id", "unknown_bow");
        refused(entry(owner, &their_bow, None), "/bow_id", "unknown_bow");
        refused(entry(owner, &bow, Some(NOBODY)), "/spare_part_id", "unknown_part");
        refused(entry(owner, &bow, Some(&their_string)), "/spare_part_id", "unknown_part");
        refused(entry(owner, &bow, Some(&serving)), "/spare_part_id", "not_a_string");
        refused(entry(owner, &bow, Some(&retired)), "/spare_part_id", "part_retired");
        refused(json!([owner.id().0, bow]), "", "wrong_type");
        refused(json!({"member_id": owner.id().0}), "/bow_id", "missing");
        let twice = [good.clone(), entry(owner, &bow, None)];
        put(owner, &path, "\"1\"", &twice).refuses(422, "/entries/1", "duplicate");
        let many = vec![good.clone(); 501];
        put(owner, &path, "\"1\"", &many).refuses(422, "/entries", "too_many");
        assert_eq!(owner.get(&path).header("etag"), "\"1\"");

        // What was entered in good order stays, though its string is retired meanwhile.
        put(owner, &path, "\"1\"", std::slice::from_ref(&good)).expect(200);
        owner.post(&format!("/parts/{string}/retirement"), &end).expect(200);
        put(owner, &path, "\"2\"", std::slice::from_ref(&good)).expect(200);
    });
}

#[test]
fn a_coach_enters_the_archers_of_their_squads_and_no_others() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let squad = json!({"name": "Thursdays", "coach_member_ids": [coach.id().0],
            "archer_member_ids": [tobin.id().0]});
        owner.post("/squads", &squad).expect(201);
        let bow_of = |person: &Person| Kit::bow(owner, Some(person.id()));
        let (tobins, ilses, lent) = (bow_of(&tobin), bow_of(&ilse), Kit::bow(owner, None));
        let path = entered(&coach, &cup());
        let own = entry(&tobin, &tobins, None);
        let other = entry(&ilse, &ilses, None);
        put(&coach, &path, "\"1\"", std::slice::from_ref(&own)).expect(200);
        let forbidden = |entries: &[Value]| {
            let version = owner.get(&path).header("etag").to_owned();
            put(&coach, &path, &version, entries).problem(403);
        };
        forbidden(&[own.clone(), other.clone()]);
        forbidden(&[entry(&tobin, &ilses, None)]);
        forbidden(&[entry(&ilse, &tobins, None)]);
        put(owner, &path, "\"2\"", &[own.clone(), other.clone()]).expect(200);
        // What another set of somebody else stays as it is, or nothing is changed at all.
        let spare = Kit::part(owner, "string");
        forbidden(std::slice::from_ref(&own));
        forbidden(&[own, entry(&ilse, &ilses, Some(&spare))]);
        let changed = [entry(&tobin, &lent, Some(&spare)), other.clone()];
        let set = put(&coach, &path, "\"3\"", &changed).expect(200);
        assert_eq!(set["entries"].as_array().unwrap().len(), 2);
        put(&coach, &path, "\"4\"", &[other]).expect(200);
    });
}

#[test]
fn an_archer_reads_events_and_changes_none() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Tobin Larkmoor"));
        let bow = Kit::bow(owner, Some(archer.id()));
        let path = entered(owner, &cup());
        put(owner, &path, "\"1\"", &[entry(owner, &bow, None)]).expect(200);
        let before = archer.get(&path).expect(200);
        archer.post("/events", &cup()).problem(403);
        archer.patch(&path, "\"2\"", &json!({"name": "Mine"})).problem(403);
        archer.delete(&path, "\"2\"").problem(403);
        put(&archer, &path, "\"2\"", &[]).problem(403);
        assert_eq!(archer.get(&path).expect(200), before);
        assert_eq!(archer.get("/events").expect(200)["data"][0]["id"], before["id"]);
    });
}

#[test]
fn an_event_of_another_club_is_not_there() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, stranger) = (club.owner(), club.neighbour());
        let path = entered(owner, &cup());
        stranger.get(&path).problem(404);
        stranger.patch(&path, "*", &json!({"name": "Ours"})).problem(404);
        stranger.delete(&path, "*").problem(404);
        put(&stranger, &path, "*", &[]).problem(404);
        assert_eq!(stranger.get("/events?called_off=true").expect(200)["data"], json!([]));
        let nobody = club.anonymous();
        nobody.get(&path).problem(401);
        nobody.post("/events", &cup()).problem(401);
        owner.get(&format!("/events/{NOBODY}")).problem(404);
        assert_eq!(owner.get(&path).header("etag"), "\"1\"");
    });
}
