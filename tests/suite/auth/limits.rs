//! How often a stranger may try. The limits themselves are checked where they stand; here, that they
//! stand before each route, and what is answered.

use jiff::SignedDuration;
use serde_json::json;
use store::testing::sqlite;

use super::sign_in;
use crate::support::{Answer, Club};

const EMAIL: &str = "maren@club.example";
const PASSWORD: &str = "nine invented feathers";

#[track_caller]
fn check_too_often(answer: &Answer, after_s: &str) {
    assert_eq!(answer.problem(429)["type"], "/problems/too-often");
    assert_eq!(answer.header("retry-after"), after_s, "{answer}");
}

#[test]
fn the_eleventh_try_for_an_account_waits_and_another_account_does_not() {
    let database = sqlite();
    let club = Club::start(&database);
    club.archer("Tobin Larkmoor");
    for _ in 0..10 {
        sign_in(&club, EMAIL, "a wrong password").problem(401);
    }
    check_too_often(&sign_in(&club, EMAIL, PASSWORD), "6");
    // In other letters it is the same account.
    check_too_often(&sign_in(&club, "Maren@Club.example", PASSWORD), "6");
    sign_in(&club, "tobin.larkmoor@club.example", PASSWORD).expect(200);
    club.clock.advance(SignedDuration::from_secs(6));
    sign_in(&club, EMAIL, PASSWORD).expect(200);
}

#[test]
fn no_header_makes_a_request_come_from_elsewhere() {
    let database = sqlite();
    let club = Club::start(&database);
    let refresh = json!({"refresh_token": "x"}).to_string();
    let nobody = club.anonymous();
    for _ in 0..60 {
        nobody.post_text("/auth/refresh", &refresh).problem(401);
    }
    check_too_often(&nobody.post_text("/auth/refresh", &refresh), "1");
    let spoofed = nobody.get_with(
        "/invitations/x",
        &[("x-forwarded-for", "192.0.2.1"), ("forwarded", "for=192.0.2.1")],
    );
    spoofed.problem(404);
    for _ in 0..59 {
        nobody.get("/invitations/x").problem(404);
    }
    let spoofed = nobody.get_with(
        "/invitations/x",
        &[("x-forwarded-for", "192.0.2.2"), ("forwarded", "for=192.0.2.2")],
    );
    check_too_often(&spoofed, "1");
    let choice = json!({"password": "long enough"});
    check_too_often(&nobody.post("/auth/reset/x", &choice), "1");
    check_too_often(&nobody.post("/invitations/x", &choice), "1");
    // Whoever is signed in is not limited by that.
    club.owner().get("/me").expect(200);
}

#[test]
fn an_account_is_mailed_three_links_an_hour_whether_it_is_there_or_not() {
    let database = sqlite();
    let club = Club::start(&database);
    for email in [EMAIL, "nobody@club.example"] {
        let ask = || club.anonymous().post("/auth/reset", &json!({"email": email}));
        for _ in 0..3 {
            ask().expect(202);
        }
        check_too_often(&ask(), "1200");
    }
}

#[test]
fn setting_up_is_limited_too() {
    let database = sqlite();
    let club = Club::start(&database);
    let body = json!({"setup_code": "guessed", "club": {"name": "x", "time_zone": "UTC"},
        "owner": {"name": "x", "email": "x@club.example", "password": "long enough"}});
    // The club of this test was set up by the first of sixty tries.
    for _ in 0..59 {
        club.anonymous().post("/setup", &body).problem(403);
    }
    check_too_often(&club.anonymous().post("/setup", &body), "1");
}
