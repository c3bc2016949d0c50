//! Joining a club by a mailed link.

use domain::mail::MailState;
use jiff::SignedDuration;
use serde_json::{Value, json};

use super::{Device, check_dead, link_in, sign_in};
use crate::support::{Answer, Club, on_both};

const EMAIL: &str = "odo@club.example";
const PASSWORD: &str = "eleven invented feathers";

fn invite(club: &Club, email: &str) -> Value {
    let body = json!({"name": "Odo Fenwright", "email": email, "role": "archer"});
    club.owner().post("/members", &body).expect(201)
}

/// The newest mail, after a round of the worker that sent one.
fn mailed(club: &Club) -> Value {
    assert_eq!(club.sweep()["deliver_mail"], 1);
    club.mails().pop().unwrap()
}

fn accept(club: &Club, token: &str) -> Answer {
    club.anonymous().post(&format!("/invitations/{token}"), &json!({"password": PASSWORD}))
}

#[test]
fn whoever_is_invited_looks_at_it_chooses_a_password_and_is_in() {
    on_both(|database| {
        let club = Club::start(database);
        let member = invite(&club, EMAIL);
        sign_in(&club, EMAIL, PASSWORD).problem(401);
        let mail = mailed(&club);
        assert_eq!(mail["subject"], "Join Bowmen of Invented Hill on Tautline");
        let token = link_in(&mail, "invitations");
        for part in ["text", "html"] {
            let call = format!("https://tautline.example/api/v1/invitations/{token}");
            assert!(mail[part].as_str().unwrap().contains(&call), "{part}: {mail}");
        }
        let path = format!("/invitations/{token}");
        for _ in 0..3 {
            let seen = club.anonymous().get(&path);
            assert_eq!(seen.header("cache-control"), "no-store");
            let seen = seen.expect(200);
            assert_eq!(seen["club_name"], "Bowmen of Invented Hill");
            assert_eq!(seen["member_name"], "Odo Fenwright");
            assert_eq!(seen["expires_at"], "2027-03-15T09:00:00Z");
            assert_eq!(seen.as_object().unwrap().len(), 3, "{seen}");
        }
        let short = json!({"password": "short"});
        club.anonymous().post(&path, &short).refuses(422, "/password", "bad_length");
        let joined = accept(&club, &token).expect(201);
        assert_eq!(joined, json!({"club_id": club.id.0, "member_id": member["id"]}));
        let me = Device::signs_in(&club, EMAIL, PASSWORD).bearer(&club).get("/me").expect(200);
        assert_eq!((&me["name"], &me["role"]), (&json!("Odo Fenwright"), &json!("archer")));
        check_dead(&accept(&club, &token));
        check_dead(&club.anonymous().get(&path));
    });
}

#[test]
fn an_address_that_signs_in_elsewhere_is_refused_and_the_link_still_works_afterwards() {
    on_both(|database| {
        let club = Club::start(database);
        club.neighbour();
        invite(&club, "pell.wrenfield@club.example");
        let token = link_in(&mailed(&club), "invitations");
        accept(&club, &token).refuses(409, "", "address_taken");
        club.anonymous().get(&format!("/invitations/{token}")).expect(200);
    });
}

#[test]
fn an_invitation_runs_out_and_ends_with_whoever_left() {
    on_both(|database| {
        let club = Club::start(database);
        let member = invite(&club, EMAIL);
        let token = link_in(&mailed(&club), "invitations");
        club.clock.advance(SignedDuration::from_hours(14 * 24) - SignedDuration::from_secs(1));
        club.anonymous().get(&format!("/invitations/{token}")).expect(200);
        club.clock.advance(SignedDuration::from_secs(1));
        check_dead(&accept(&club, &token));
        let path = format!("/members/{}/invitation", member["id"].as_str().unwrap());
        assert_eq!(club.owner().post(&path, &json!({})).status, 204);
        let left = format!("/members/{}", member["id"].as_str().unwrap());
        let second = link_in(&mailed(&club), "invitations");
        assert_eq!(club.owner().post(&path, &json!({})).status, 204);
        assert_eq!(club.owner().delete(&left, "*").status, 204);
        check_dead(&accept(&club, &second));
        assert_eq!(club.sweep()["deliver_mail"], 0);
        let states = [MailState::Sent, MailState::Sent, MailState::Cancelled];
        assert_eq!(club.mail_states(), states);
    });
}

#[test]
fn a_minors_guardian_gets_the_link_with_them_or_in_their_place() {
    on_both(|database| {
        let club = Club::start(database);
        for (email, agreed, to, cc) in [
            ("ina@club.example", Value::Null, "runa@club.example", None),
            (EMAIL, json!("2027-02-01"), EMAIL, Some("runa@club.example")),
        ] {
            let guardian = json!({"name": "Runa Fenwright", "email": "runa@club.example",
                "consented_on": agreed});
            let body = json!({"name": "Ina Fenwright", "email": email, "role": "archer",
                "minor_until": "2030-05-01", "guardian": guardian});
            club.owner().post("/members", &body).expect(201);
            let mail = mailed(&club);
            assert!(mail["to"].to_string().contains(to), "{mail}");
            assert_eq!(mail["to"].as_array().unwrap().len(), 1, "{mail}");
            match cc {
                Some(cc) => assert!(mail["cc"].to_string().contains(cc), "{mail}"),
                None => assert_eq!(mail["cc"], json!([]), "{mail}"),
            }
        }
    });
}
