//! Choosing another password by a mailed link.

use domain::mail::{MailKind, MailState};
use jiff::SignedDuration;
use serde_json::{Value, json};

use super::{Device, check_dead, link_in, sign_in};
use crate::support::{Answer, Club, on_both, until};

const EMAIL: &str = "tobin.larkmoor@club.example";
const OLD: &str = "nine invented feathers";
const NEW: &str = "ten invented feathers";

fn ask(club: &Club, email: &str) -> Answer {
    club.anonymous().post("/auth/reset", &json!({"email": email}))
}

fn choose(club: &Club, token: &str, password: &str) -> Answer {
    club.anonymous().post(&format!("/auth/reset/{token}"), &json!({"password": password}))
}

/// Asks for a link and waits until there are so many mails in the outbox.
fn ask_and_wait(club: &Club, mails: usize) {
    ask(club, EMAIL).expect(202);
    until("the link to be written", || (club.outbox().len() == mails).then_some(()));
}

/// The mail that a round of the worker sends.
fn mailed(club: &Club) -> Value {
    assert_eq!(club.sweep()["deliver_mail"], 1);
    club.mails().pop().unwrap()
}

#[test]
fn a_mailed_link_sets_another_password_once_and_signs_every_device_out() {
    on_both(|database| {
        let club = Club::start(database);
        club.archer("Tobin Larkmoor");
        let device = Device::signs_in(&club, EMAIL, OLD);
        let made = device.bearer(&club).post("/tokens", &json!({"name": "Bench", "scope": "read"}));
        let script = club.bearing(made.expect(201)["token"].as_str().unwrap());
        ask_and_wait(&club, 1);
        let mail = mailed(&club);
        assert!(mail["to"].to_string().contains(EMAIL), "{mail}");
        assert_eq!(mail["subject"], "Choose another password for Bowmen of Invented Hill");
        let token = link_in(&mail, "reset");

        // Whoever only looks at addresses changes nothing.
        club.anonymous().get(&format!("/auth/reset/{token}")).problem(405);
        choose(&club, &token, "short").refuses(422, "/password", "bad_length");
        device.bearer(&club).get("/me").expect(200);

        let done = choose(&club, &token, NEW);
        assert_eq!((done.status, done.body.len()), (204, 0), "{done}");
        device.bearer(&club).get("/me").problem(401);
        let refresh = json!({"refresh_token": device.refresh});
        club.anonymous().post("/auth/refresh", &refresh).problem(401);
        sign_in(&club, EMAIL, OLD).problem(401);
        check_dead(&choose(&club, &token, "eleven invented feathers"));
        Device::signs_in(&club, EMAIL, NEW).bearer(&club).get("/me").expect(200);
        script.get("/me").expect(200);
        club.owner().get("/me").expect(200);
    });
}

#[test]
fn every_address_is_answered_alike_and_only_an_account_gets_a_mail() {
    on_both(|database| {
        let club = Club::start(database);
        club.archer("Tobin Larkmoor");
        let answers = ["nobody@club.example", "no address", "", EMAIL].map(|email| {
            let answer = ask(&club, email);
            (answer.status, answer.header("content-type").to_owned(), answer.json())
        });
        assert!(answers.iter().all(|answer| *answer == answers[0]), "{answers:?}");
        assert_eq!(answers[0].0, 202);
        until("the one mail", || (!club.outbox().is_empty()).then_some(()));
        let outbox = club.outbox();
        assert_eq!((outbox.len(), outbox[0].mail.kind), (1, MailKind::Reset));
    });
}

#[test]
fn a_link_that_ran_out_or_was_never_ours_is_answered_alike() {
    on_both(|database| {
        let club = Club::start(database);
        club.archer("Tobin Larkmoor");
        ask_and_wait(&club, 1);
        let token = link_in(&mailed(&club), "reset");
        let mut cut = token.clone();
        cut.pop();
        for forged in [cut, format!("{token}A"), "x".to_owned(), "x".repeat(1_000)] {
            check_dead(&choose(&club, &forged, NEW));
        }
        // A link for one purpose is none for another.
        let elsewhere = format!("/invitations/{token}");
        check_dead(&club.anonymous().get(&elsewhere));
        check_dead(&club.anonymous().post(&elsewhere, &json!({"password": NEW})));
        club.clock.advance(SignedDuration::from_hours(2));
        check_dead(&choose(&club, &token, NEW));
        Device::signs_in(&club, EMAIL, OLD);
    });
}

#[test]
fn the_first_link_that_is_used_makes_the_others_useless_and_keeps_their_mail_back() {
    on_both(|database| {
        let club = Club::start(database);
        club.archer("Tobin Larkmoor");
        ask_and_wait(&club, 1);
        let token = link_in(&mailed(&club), "reset");
        ask_and_wait(&club, 2);
        assert_eq!(choose(&club, &token, NEW).status, 204);
        assert_eq!(club.sweep()["deliver_mail"], 0);
        assert_eq!(club.mail_states(), [MailState::Sent, MailState::Cancelled]);
    });
}
