//! Tokens for scripts: what they let in, what they do not, and how that ends.

use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::{
    bad_input::{on_record, operations},
    support::{Club, Kit, Person, on_both},
};

/// What a token's owner is told of it, and whoever bears it.
fn make(club: &Club, by: &Person, scope: &str) -> (Value, Person) {
    let made = by.post("/tokens", &json!({"name": "Phone of the bench", "scope": scope}));
    assert_eq!(made.header("cache-control"), "no-store");
    let made = made.expect(201);
    let token = made["token"].as_str().unwrap();
    assert!(token.starts_with("tl_") && token.len() == 35, "{token}");
    let bearer = club.bearing(token);
    (made, bearer)
}

fn path(made: &Value) -> String {
    format!("/tokens/{}", made["id"].as_str().unwrap())
}

/// Every operation that wants a proof, by the document of the API.
fn guarded(club: &Club) -> Vec<(String, String)> {
    let document = club.anonymous().send("GET", "/api/openapi.json", None).expect(200);
    let id = "01950000-0000-7000-8000-0000000000ff";
    let mut found = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let open = operation["security"] == json!([{}]);
            if path.starts_with("/api/v1/") && !open {
                let segments =
                    path.split('/').map(|one| if one.starts_with('{') { id } else { one });
                let path = segments.collect::<Vec<_>>().join("/");
                found.push((method.to_uppercase(), path));
            }
        }
    }
    found
}

#[test]
fn a_script_does_what_its_scope_says_and_nothing_else() {
    on_both(|database| {
        let club = Club::start(database);
        let kit = Kit::of(&club, club.owner(), None);
        let (_, log) = make(&club, club.owner(), "log");
        let (_, read) = make(&club, club.owner(), "read");
        let logging = ["/shot-logs", "/shot-logs/batch"];
        let open = ["/setup", "/auth/sign-in"];
        let before = on_record(database);
        for (path, body) in operations(&kit) {
            if open.contains(&&*path) {
                continue;
            }
            read.post(&path, &body).problem(403);
            if !logging.contains(&&*path) {
                log.post(&path, &body).problem(403);
            }
        }
        let all = guarded(&club);
        assert!(all.len() > 30, "{all:?}");
        let refused = [403, 415, 422, 428];
        for (method, path) in &all {
            let short = path.trim_start_matches("/api/v1");
            let may_log = method == "POST" && logging.contains(&short);
            if !may_log {
                let answer = log.send(method, path, None);
                assert!(refused.contains(&answer.status), "{answer}");
            }
            let answer = read.send(method, path, None);
            if method == "GET" {
                assert!(![401, 403].contains(&answer.status), "{answer}");
                // An address that needs a query may ask for it first.
                let answer = log.send(method, path, None);
                assert!([403, 422].contains(&answer.status), "{answer}");
            } else {
                assert!(refused.contains(&answer.status), "{answer}");
            }
        }
        assert_eq!(on_record(database), before);
        for path in ["/me", "/club", "/bows", "/parts", "/shot-logs", "/due", "/tokens"] {
            log.get(path).problem(403);
            read.get(path).expect(200);
        }
        let entry = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 30});
        log.post("/shot-logs", &entry).expect(201);
        let batch = json!({"mode": "atomic", "entries": [entry]});
        log.post("/shot-logs/batch", &batch).expect(200);
        assert_eq!(read.get(&format!("/parts/{}", kit.string)).expect(200)["wear"]["shots"], 60);
        assert_eq!(read.send("HEAD", "/api/v1/me", None).status, 200);
        assert_eq!(log.send("HEAD", "/api/v1/me", None).status, 403);
    });
}

#[test]
fn a_script_may_do_no_more_than_whoever_made_it() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let own = Kit::bow(club.owner(), Some(tobin.id()));
        let other = Kit::bow(club.owner(), Some(ilse.id()));
        let (_, log) = make(&club, &tobin, "log");
        let (_, read) = make(&club, &tobin, "read");
        let entry = |bow: &str| json!({"bow_id": bow, "at": "2027-03-01T08:30:00Z", "shots": 30});
        log.post("/shot-logs", &entry(&own)).expect(201);
        log.post("/shot-logs", &entry(&other)).problem(403);
        assert_eq!(read.get("/me").expect(200)["member_id"], json!(tobin.id().0));
        club.neighbour().get(&format!("/bows/{own}")).problem(404);
    });
}

#[test]
fn a_token_is_shown_once_and_only_its_hash_is_kept() {
    on_both(|database| {
        let club = Club::start(database);
        let body = json!({"name": "Bench", "scope": "read"});
        let first = club.owner().post_once("/tokens", "k1", &body).expect(201);
        let again = club.owner().post_once("/tokens", "k1", &body).expect(201);
        let token = first["token"].as_str().unwrap();
        let mut expected = first.clone();
        expected["token"] = Value::Null;
        assert_eq!(again, expected);
        let listed = club.owner().get("/tokens").expect(200);
        expected.as_object_mut().unwrap().remove("token");
        assert_eq!(listed, json!({"data": [expected], "next_cursor": null}));
        let kept = [
            "SELECT answer AS text FROM repeatable_requests",
            "SELECT token_hash AS text \
            FROM script_tokens",
        ];
        for column in kept {
            let rows = database.texts(column);
            assert_eq!(rows.len(), 1);
            assert!(!rows[0].contains(token) && !rows[0].contains(&token[3..]), "{rows:?}");
        }
        club.bearing(token).get("/me").expect(200);
        let mut other = token.to_owned();
        let last = if other.pop() == Some('A') { 'B' } else { 'A' };
        other.push(last);
        for wrong in [&*other, "tl_", "tl_x", &token[3..], &token.to_uppercase()] {
            club.bearing(wrong).get("/me").problem(401);
        }
    });
}

#[test]
fn a_token_that_was_revoked_or_whose_member_left_lets_nobody_in() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let (own, own_script) = make(&club, &tobin, "read");
        let (by_owner, second_script) = make(&club, &tobin, "read");
        let (_, of_ilse) = make(&club, &ilse, "read");
        ilse.delete(&path(&own), "").problem(403);
        club.neighbour().delete(&path(&own), "").problem(404);
        own_script.delete(&path(&own), "").problem(403);
        own_script.get("/me").expect(200);
        for _ in 0..2 {
            assert_eq!(tobin.delete(&path(&own), "").status, 204);
        }
        own_script.get("/me").problem(401);
        assert_eq!(club.owner().delete(&path(&by_owner), "").status, 204);
        second_script.get("/me").problem(401);
        assert_eq!(tobin.get("/tokens").expect(200)["data"], json!([]));
        tobin.delete("/tokens/01950000-0000-7000-8000-0000000000ff", "").problem(404);

        of_ilse.get("/me").expect(200);
        assert_eq!(club.owner().delete(&format!("/members/{}", ilse.id().0), "*").status, 204);
        of_ilse.get("/me").problem(401);
    });
}

#[test]
fn the_day_of_the_last_use_is_told_in_the_clubs_time() {
    on_both(|database| {
        let club = Club::start(database);
        let last_used =
            || club.owner().get("/tokens").expect(200)["data"][0]["last_used_on"].clone();
        let (_, script) = make(&club, club.owner(), "read");
        assert_eq!(last_used(), Value::Null);
        script.get("/me").expect(200);
        assert_eq!(last_used(), "2027-03-01");
        // Lisbon has summer time in July: 23:30 UTC is half past midnight there.
        club.clock.set("2027-07-01T23:30:00Z".parse().unwrap());
        script.get("/me").expect(200);
        assert_eq!(last_used(), "2027-07-02");
        club.clock.advance(SignedDuration::from_hours(12));
        script.get("/bows").expect(200);
        assert_eq!(last_used(), "2027-07-02");
    });
}

#[test]
fn a_token_that_cannot_be_is_refused_field_by_field() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let good = json!({"name": "Bench", "scope": "log"});
        for (name, value, code) in [
            ("name", json!(""), "empty"),
            ("name", json!("x".repeat(201)), "too_long"),
            ("name", json!("a\nb"), "control_character"),
            ("scope", json!("write"), "unknown_word"),
            ("scope", json!(1), "wrong_type"),
            ("member_id", json!("x"), "unknown_field"),
        ] {
            let mut body = good.clone();
            body[name] = value;
            owner.post("/tokens", &body).refuses(422, &format!("/{name}"), code);
        }
        assert_eq!(owner.get("/tokens").expect(200)["data"], json!([]));
        for _ in 0..50 {
            owner.post("/tokens", &good).expect(201);
        }
        owner.post("/tokens", &good).refuses(409, "", "too_many_tokens");
        club.archer("Tobin Larkmoor").post("/tokens", &good).expect(201);
    });
}
