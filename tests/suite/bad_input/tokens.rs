//! Proofs that prove nothing: every one is answered 401 and told how to do better.

use domain::time::Clock;
use jiff::SignedDuration;
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation, decode, encode};
use serde_json::{Value, json};

use super::refused_on_both;
use crate::support::{Answer, Club, key, on_both};

/// A token as ours are, then changed; signed with the server's own key unless given another.
fn forge(club: &Club, secret: &[u8], change: impl FnOnce(&mut Header, &mut Value)) -> String {
    let now = club.clock.now().as_second();
    let mut header = Header::new(Algorithm::HS256);
    header.typ = Some("at+jwt".to_owned());
    header.kid = Some(key().id);
    let mut claims = json!({
        "iss": "tautline", "aud": "tautline-api", "sub": club.owner().id().0, "club": club.id.0,
        "sid": sign_in_of(club), "iat": now, "nbf": now, "exp": now + 900,
    });
    change(&mut header, &mut claims);
    encode(&header, &claims, &EncodingKey::from_secret(secret)).unwrap()
}

/// The device that the owner signed in on, as a token of theirs names it.
fn sign_in_of(club: &Club) -> Value {
    let mut any = Validation::new(Algorithm::HS256);
    any.validate_exp = false;
    any.validate_aud = false;
    let token = club.owner().token().unwrap();
    let ours = DecodingKey::from_secret(&key().secret);
    decode::<Value>(&token, &ours, &any).unwrap().claims["sid"].clone()
}

#[track_caller]
fn check_refused(answer: &Answer) {
    let problem = answer.problem(401);
    assert_eq!(problem["type"], "/problems/not-signed-in", "{answer}");
    // RFC 9110, section 11.6.1; the scheme is that of RFC 6750.
    assert!(answer.header("www-authenticate").starts_with("Bearer realm="), "{answer}");
}

#[test]
fn a_token_that_was_changed_is_refused_by_reading_and_by_writing() {
    refused_on_both(|club, _| {
        let ours = key().secret;
        let right = forge(club, &ours, |_, _| {});
        assert_eq!(club.bearing(&right).get("/me").status, 200, "the forger cannot forge");
        let mut bad = Vec::new();
        for claim in ["aud", "iss", "exp", "nbf", "sub", "club", "sid", "iat"] {
            bad.push(forge(club, &ours, |_, claims| {
                claims.as_object_mut().unwrap().remove(claim);
            }));
        }
        let now = club.clock.now().as_second();
        for (claim, value) in [
            ("aud", json!("another-api")),
            ("aud", json!(["another-api"])),
            ("iss", json!("somebody")),
            ("exp", json!(now - 60)),
            ("exp", json!(now + 86_400)),
            ("nbf", json!(now + 600)),
            ("sid", json!("emperor")),
            ("sid", json!(club.id.0)),
            ("sub", json!("1")),
        ] {
            bad.push(forge(club, &ours, |_, claims| claims[claim] = value));
        }
        bad.push(forge(club, &ours, |header, _| header.typ = Some("JWT".to_owned())));
        bad.push(forge(club, &ours, |header, _| header.typ = None));
        bad.push(forge(club, &ours, |header, _| header.kid = Some("../suite".to_owned())));
        bad.push(forge(club, &ours, |header, _| header.alg = Algorithm::HS384));
        bad.push(forge(club, &[43; 32], |_, _| {}));
        let parts: Vec<&str> = right.split('.').collect();
        // {"alg":"none","typ":"at+jwt","kid":"suite"}
        let none = "eyJhbGciOiJub25lIiwidHlwIjoiYXQrand0Iiwia2lkIjoic3VpdGUifQ";
        bad.push(format!("{none}.{}.", parts[1]));
        bad.push(format!("{none}.{}.{}", parts[1], parts[2]));
        bad.push(format!("{}.{}.", parts[0], parts[1]));
        bad.push(format!("{}.{}", parts[0], parts[1]));
        bad.push("x".repeat(4_000));
        bad.push("null".to_owned());
        for token in bad {
            let bearer = club.bearing(&token);
            check_refused(&bearer.get("/me"));
            let part = json!({"kind": "string", "name": "Smuggled"});
            check_refused(&bearer.post("/parts", &part));
        }
    });
}

#[test]
fn a_token_runs_out_after_fifteen_minutes_and_a_little() {
    on_both(|database| {
        let club = Club::start(database);
        let bearer = club.bearing(&club.owner().token().unwrap());
        bearer.get("/me").expect(200);
        club.clock.advance(SignedDuration::from_secs(15 * 60 + 29));
        bearer.get("/me").expect(200);
        club.clock.advance(SignedDuration::from_secs(1));
        check_refused(&bearer.get("/me"));
    });
}

#[test]
fn a_request_without_a_bearer_token_is_refused_on_every_guarded_path() {
    refused_on_both(|club, kit| {
        let nobody = club.anonymous();
        for path in ["/me", "/bows", "/parts", "/shot-logs", "/due", "/reminders"] {
            check_refused(&nobody.get(path));
        }
        check_refused(&nobody.get(&format!("/bows/{}", kit.bow)));
        check_refused(&nobody.get(&format!("/parts/{}", kit.string)));
        for (path, body) in super::operations(kit) {
            if path != "/setup" {
                check_refused(&nobody.post(&path, &body));
            }
        }
    });
}

#[test]
fn the_scheme_is_bearer_in_any_case_and_no_other() {
    on_both(|database| {
        let club = Club::start(database);
        let token = club.owner().token().unwrap();
        let with = |header: &str| club.anonymous().get_with("/me", &[("authorization", header)]);
        // RFC 9110, section 11.1: the scheme's case does not matter.
        for scheme in ["Bearer", "bearer", "BEARER"] {
            with(&format!("{scheme} {token}")).expect(200);
        }
        for header in [
            format!("Basic {token}"),
            format!("Bearer{token}"),
            token,
            "Bearer".to_owned(),
            "Bearer ".to_owned(),
            String::new(),
        ] {
            check_refused(&with(&header));
        }
    });
}

#[test]
fn a_wrong_password_and_an_unknown_address_are_answered_alike() {
    refused_on_both(|club, _| {
        let nobody = club.anonymous();
        let answers = [
            ("maren@club.example", "nine invented feather"),
            ("maren@club.example", ""),
            ("nobody@club.example", "nine invented feathers"),
            ("no address", "nine invented feathers"),
            ("maren@club.example' OR '1'='1", "nine invented feathers"),
        ]
        .map(|(email, password)| {
            let answer =
                nobody.post("/auth/sign-in", &json!({"email": email, "password": password}));
            check_refused(&answer);
            answer.json()["detail"].clone()
        });
        assert!(answers.iter().all(|detail| *detail == answers[0]), "{answers:?}");
    });
}
