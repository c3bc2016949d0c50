//! Staying signed in and signing out.

use jiff::SignedDuration;
use serde_json::json;
use store::seals::Seals;

use super::Device;
use crate::support::{Answer, Club, on_both, seals};

const EMAIL: &str = "maren@club.example";
const PASSWORD: &str = "nine invented feathers";

fn refresh(club: &Club, token: &str) -> Answer {
    club.anonymous().post("/auth/refresh", &json!({"refresh_token": token}))
}

fn sign_out(club: &Club, token: &str) -> Answer {
    club.anonymous().post("/auth/sign-out", &json!({"refresh_token": token}))
}

#[test]
fn a_device_stays_signed_in_by_exchanging_its_token() {
    on_both(|database| {
        let club = Club::start(database);
        let first = Device::signs_in(&club, EMAIL, PASSWORD);
        let mut device = Device { ..first };
        for _ in 0..3 {
            club.clock.advance(SignedDuration::from_hours(80 * 24));
            device.bearer(&club).get("/me").problem(401);
            let answer = refresh(&club, &device.refresh);
            assert_eq!(answer.header("cache-control"), "no-store");
            device = Device::of(&answer.expect(200));
            device.bearer(&club).get("/me").expect(200);
        }
        club.clock.advance(SignedDuration::from_hours(90 * 24));
        refresh(&club, &device.refresh).problem(401);
    });
}

#[test]
fn a_refresh_token_that_comes_twice_ends_the_device_and_its_access_at_once() {
    on_both(|database| {
        let club = Club::start(database);
        let stolen = Device::signs_in(&club, EMAIL, PASSWORD);
        let other = Device::signs_in(&club, EMAIL, PASSWORD);
        let next = Device::of(&refresh(&club, &stolen.refresh).expect(200));
        next.bearer(&club).get("/me").expect(200);
        refresh(&club, &stolen.refresh).problem(401);
        for device in [&stolen, &next] {
            device.bearer(&club).get("/me").problem(401);
            refresh(&club, &device.refresh).problem(401);
        }
        other.bearer(&club).get("/me").expect(200);
        Device::of(&refresh(&club, &other.refresh).expect(200));
    });
}

#[test]
fn signing_out_ends_one_device_however_often_and_whichever_of_its_tokens_is_shown() {
    on_both(|database| {
        let club = Club::start(database);
        let first = Device::signs_in(&club, EMAIL, PASSWORD);
        let other = Device::signs_in(&club, EMAIL, PASSWORD);
        let next = Device::of(&refresh(&club, &first.refresh).expect(200));
        for token in [&first.refresh, &next.refresh, &next.refresh] {
            let answer = sign_out(&club, token);
            assert_eq!((answer.status, answer.body.len()), (204, 0), "{answer}");
        }
        next.bearer(&club).get("/me").problem(401);
        refresh(&club, &next.refresh).problem(401);
        other.bearer(&club).get("/me").expect(200);
    });
}

#[test]
fn a_seal_that_is_not_ours_changes_nothing() {
    on_both(|database| {
        let club = Club::start(database);
        let device = Device::signs_in(&club, EMAIL, PASSWORD);
        let mut cut = device.refresh.clone();
        cut.pop();
        let content = [club.id.0.as_bytes().as_slice(), &[0; 20]].concat();
        for token in [
            String::new(),
            "x".repeat(2_000),
            cut,
            format!("{}A", device.refresh),
            device.access.clone(),
            Seals::new([9; 32], None).seal("refresh", &content),
            seals().seal("reset", &content),
            // Ours, and of a device that never was.
            seals().seal("refresh", &content),
        ] {
            let problem = refresh(&club, &token).problem(401);
            assert_eq!(problem["type"], "/problems/not-signed-in");
        }
        sign_out(&club, "nobody's").problem(401);
        let extra = json!({"refresh_token": device.refresh, "scope": "all"});
        club.anonymous().post("/auth/refresh", &extra).refuses(422, "/scope", "unknown_field");
        device.bearer(&club).get("/me").expect(200);
        Device::of(&refresh(&club, &device.refresh).expect(200));
    });
}

#[test]
fn whoever_left_is_out_and_stays_out() {
    on_both(|database| {
        let club = Club::start(database);
        let tobin = club.archer("Tobin Larkmoor");
        let email = "tobin.larkmoor@club.example";
        let device = Device::signs_in(&club, email, PASSWORD);
        let left = club.owner().delete(&format!("/members/{}", tobin.id().0), "*");
        assert_eq!(left.status, 204, "{left}");
        device.bearer(&club).get("/me").problem(401);
        refresh(&club, &device.refresh).problem(401);
        super::sign_in(&club, email, PASSWORD).problem(401);
    });
}
