//! Requests whose shape is wrong before any field is looked at.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use super::{operations, refused_on_both};

const SOME_ID: &str = "01950000-0000-7000-8000-0000000000ff";

/// Every address of the committed document of the API, with the methods that it takes.
fn addresses() -> Vec<(String, BTreeSet<String>)> {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/openapi/openapi.json");
    let document: Value = serde_json::from_slice(&std::fs::read(file).unwrap()).unwrap();
    let paths = document["paths"].as_object().unwrap();
    assert!(paths.len() > 15, "{} addresses", paths.len());
    let methods = |item: &Value| {
        let mut methods: BTreeSet<String> =
            item.as_object().unwrap().keys().map(|name| name.to_uppercase()).collect();
        if methods.contains("GET") {
            methods.insert("HEAD".to_owned());
        }
        methods
    };
    paths.iter().map(|(path, item)| (path.replace("{id}", SOME_ID), methods(item))).collect()
}

fn allowed(header: &str) -> BTreeSet<String> {
    header.split(", ").map(str::to_owned).collect()
}

#[test]
fn a_method_that_an_address_does_not_take_is_answered_with_those_it_takes() {
    refused_on_both(|club, _| {
        for (path, methods) in addresses() {
            for method in ["GET", "POST", "PUT", "PATCH", "DELETE", "PROPFIND"] {
                if methods.contains(method) {
                    continue;
                }
                let answer = club.owner().send(method, &path, None);
                assert_eq!(answer.problem(405)["type"], "/problems/method-not-allowed");
                assert_eq!(allowed(answer.header("allow")), methods, "{answer}");
            }
            let answer = club.owner().send("OPTIONS", &path, None);
            assert_eq!(
                (answer.status, allowed(answer.header("allow"))),
                (204, methods),
                "{answer}"
            );
        }
    });
}

#[test]
fn head_is_answered_like_get_without_the_body() {
    refused_on_both(|club, _| {
        for (path, methods) in addresses().into_iter().filter(|(path, _)| !path.contains(SOME_ID)) {
            let head = club.owner().send("HEAD", &path, None);
            assert!(head.body.is_empty(), "{head}");
            if methods.contains("GET") {
                let get = club.owner().send("GET", &path, None);
                assert_eq!(head.status, get.status, "{head}");
                assert_eq!(head.header("content-type"), get.header("content-type"), "{head}");
                let raw = club.anonymous().raw(&format!("HEAD {path} HTTP/1.1"));
                assert!(raw.starts_with("HTTP/1.1 ") && raw.ends_with("\r\n\r\n"), "{raw}");
            } else {
                assert_eq!(head.status, 405, "{head}");
                assert_eq!(allowed(head.header("allow")), methods, "{head}");
            }
        }
    });
}

#[test]
fn an_address_that_is_none_and_an_id_that_is_none_are_not_found() {
    refused_on_both(|club, _| {
        for path in [
            "/",
            "/api",
            "/api/v1",
            "/api/v1/",
            "/api/v2/bows",
            "/api/v1/Bows",
            "/api/v1/bows/",
            "/api/v1/bows/not-an-id",
            "/api/v1/bows/01950000",
            "/api/v1/bows/%00",
            "/api/v1/bows/..%2Fme",
            "/api/v1/parts/17",
            "/api/v1/parts/01950000-0000-7000-8000-0000000000fg",
            "/api/v1/clubs",
            "/.git/config",
            "//api/v1/bows",
        ] {
            assert_eq!(
                club.owner().send("GET", path, None).problem(404)["type"],
                "/problems/not-found"
            );
        }
        for path in [
            format!("/bows/{SOME_ID}"),
            format!("/parts/{SOME_ID}"),
            format!("/shot-logs?bow_id={SOME_ID}"),
        ] {
            club.owner().get(&path).problem(404);
        }
        let at = json!({"at": "2027-03-01T08:30:00Z", "end": "worn", "reason": "x"});
        for id in ["17", "x", SOME_ID] {
            club.owner().post(&format!("/parts/{id}/retirement"), &at).problem(404);
            let at = json!({"at": at["at"]});
            club.owner().post(&format!("/fittings/{id}/removal"), &at).problem(404);
        }
    });
}

#[test]
fn a_body_that_is_not_json_or_does_not_say_so_is_refused() {
    refused_on_both(|club, kit| {
        let owner = club.owner();
        for (path, body) in operations(kit) {
            let (full, text) = (format!("/api/v1{path}"), body.to_string());
            for kind in ["", "text/plain", "application/x-www-form-urlencoded", "application/xml"] {
                let answer = owner.send("POST", &full, Some((kind, text.as_bytes())));
                assert_eq!(answer.problem(415)["type"], "/problems/not-json");
            }
            for not_json in [
                &b""[..],
                b"   ",
                b"{",
                b"nonsense",
                b"{'at': 1}",
                b"\xff\xfe{}",
                b"{\"\xff\": 1}",
                b"{\"\\ud800\": 1}",
            ] {
                let answer = owner.post_text(&path, not_json);
                assert_eq!(answer.problem(400)["type"], "/problems/malformed", "{answer}");
            }
            let twice = [text.as_bytes(), text.as_bytes()].concat();
            owner.post_text(&path, &twice).problem(400);
        }
    });
}

#[test]
fn a_body_of_another_shape_is_refused_by_its_place() {
    refused_on_both(|club, kit| {
        let owner = club.owner();
        for (path, body) in operations(kit) {
            for other in [json!([]), json!([body]), json!("x"), json!(7), json!(true), Value::Null]
            {
                owner.post(&path, &other).refuses(422, "", "wrong_type");
            }
            let members = body.as_object().unwrap();
            let mut more = body.clone();
            more["club_id"] = json!(SOME_ID);
            owner.post(&path, &more).refuses(422, "/club_id", "unknown_field");
            let (name, value) = members.iter().next().unwrap();
            let twice = body.to_string().replacen('{', &format!("{{\"{name}\":{value},"), 1);
            owner.post_text(&path, &twice).refuses(422, &format!("/{name}"), "duplicate_field");
            let may_be_absent = ["bow_id", "servings", "nocking_point", "setup", "old", "part_ids"];
            for name in members.keys().filter(|name| !may_be_absent.contains(&name.as_str())) {
                let mut less = body.clone();
                less.as_object_mut().unwrap().remove(name);
                owner.post(&path, &less).refuses(422, &format!("/{name}"), "missing");
            }
            for value in [json!([]), json!({"a": 1}), json!([["x"]])] {
                let mut other = body.clone();
                let name = members.keys().find(|name| *name != "entries").unwrap();
                other[name] = value;
                let problem = owner.post(&path, &other).problem(422);
                let pointer = problem["errors"][0]["pointer"].as_str().unwrap();
                assert!(pointer.starts_with(&format!("/{name}")), "{path} {pointer}");
            }
        }
        let nested = json!({"mode": "atomic", "entries": [[kit.bow, "2027-03-01", 3]]});
        owner.post("/shot-logs/batch", &nested).refuses(422, "/entries/0", "wrong_type");
    });
}

#[test]
fn a_body_beyond_reason_is_refused_and_harms_nothing() {
    refused_on_both(|club, kit| {
        let owner = club.owner();
        let long = json!({"kind": "string", "name": "x".repeat(1_048_576)}).to_string();
        for (path, _) in operations(kit) {
            let answer = owner.post_text(&path, &long);
            assert_eq!(answer.problem(413)["type"], "/problems/too-large");
        }
        for opening in ["[", "{\"entries\":[", "{\"entries\":"] {
            let deep = opening.repeat(20_000);
            let answer = owner.post_text("/shot-logs/batch", &deep);
            assert!([400, 422].contains(&answer.status), "{answer}");
            answer.problem(answer.status);
        }
        let entry = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 3});
        for count in [0, 1_001] {
            let batch = json!({"mode": "each", "entries": vec![&entry; count]});
            owner.post("/shot-logs/batch", &batch).refuses(422, "/entries", "bad_length");
        }
        assert_eq!(club.anonymous().send("GET", "/readyz", None).expect(200)["status"], "ok");
    });
}

#[test]
fn a_request_keeps_an_id_that_is_plain_and_gets_another_otherwise() {
    refused_on_both(|club, _| {
        let nobody = club.anonymous();
        let id = |chosen: &str| {
            let answer = nobody.get_with("/me", &[("x-request-id", chosen)]);
            answer.problem(401)["request_id"].as_str().unwrap().to_owned()
        };
        assert_eq!(id("phone-17.a_B"), "phone-17.a_B");
        for strange in ["a b", "<script>", "x\"y", "", &"x".repeat(65)] {
            assert_ne!(id(strange), strange);
        }
    });
}

#[test]
fn a_refusal_names_no_type_of_the_program_and_hands_back_little() {
    refused_on_both(|club, kit| {
        let owner = club.owner();
        let endless = "x".repeat(400_000);
        for shots in [json!("12"), json!(1.5), json!(null), json!([1]), json!(endless)] {
            let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": shots});
            let refused = owner.post("/shot-logs", &log);
            refused.refuses(422, "/shots", "wrong_type");
            assert!(refused.body.len() < 2_000, "{} bytes", refused.body.len());
            let told = refused.json()["errors"][0]["detail"].as_str().unwrap().to_owned();
            assert!(told.ends_with("expected a whole number"), "{told}");
            assert!(told.chars().count() <= 200, "{told}");
        }
        let bow = json!({"name": "Blue bow", "division": "recurve", "bow_length_in": "68",
            "draw_weight_lbf": 30});
        let told = owner.post("/bows", &bow).problem(422)["detail"].as_str().unwrap().to_owned();
        assert!(told.ends_with("expected a number"), "{told}");
        for (query, words) in [
            ("limit=abc", "query: expected a whole number"),
            ("bow_id=1", "query: expected a UUID"),
        ] {
            let problem = owner.get(&format!("/shot-logs?{query}")).problem(422);
            assert_eq!(problem["detail"], words);
        }
    });
}

#[test]
fn a_query_that_an_address_does_not_know_is_refused_by_every_address() {
    refused_on_both(|club, kit| {
        let owner = club.owner();
        let readable = addresses().into_iter().filter(|(_, methods)| methods.contains("GET"));
        // What some mail programs add to a link is none of ours, and the page is shown all the same.
        let pages = ["/act/", "/quiet/", "/invitations/", "/reset/"];
        let linked = |path: &str| pages.iter().any(|page| path.starts_with(page));
        let readable = readable.filter(|(path, _)| !linked(path));
        for (path, _) in readable {
            let asked = owner.send("GET", &format!("{path}?colour=blue"), None);
            asked.refuses(422, "/colour", "bad_query");
            assert!(!asked.json()["detail"].as_str().unwrap().contains("body"), "{asked}");
        }
        for (path, body) in operations(kit) {
            owner.post(&format!("{path}?colour=blue"), &body).refuses(422, "/colour", "bad_query");
        }
    });
}
