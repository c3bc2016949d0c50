//! What somebody reads and changes of themselves.

use serde_json::{Value, json};

use crate::support::{Club, Person, on_both};

const PASSWORD: &str = "nine invented feathers";

#[test]
fn somebody_reads_all_that_is_on_record_of_them() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let squad = json!({"name": "Thursdays", "coach_member_ids": [coach.id().0],
            "archer_member_ids": [coach.id().0]});
        let squad = owner.post("/squads", &squad).expect(201)["id"].clone();
        let care = json!({"minor_until": "2030-05-01",
            "guardian": {"name": "Runa", "email": "runa@club.example"}});
        owner.patch(&format!("/members/{}", coach.id()), "*", &care).expect(200);
        let answer = coach.get("/me");
        let me = answer.expect(200);
        assert_eq!(answer.header("etag"), "\"2\"");
        let part = |part: &str| json!({"squad_id": squad, "name": "Thursdays", "part": part});
        let expected = json!({"member_id": coach.id().0, "name": "Ferin Oakstave",
            "email": "ferin.oakstave@club.example", "email_refused": null, "role": "coach",
            "time_zone": null,
            "quiet_hours": null, "minor_until": "2030-05-01",
            "guardian": {"name": "Runa", "email": "runa@club.example", "consented_on": null},
            "stopped_mail": [], "squads": [part("coach"), part("archer")], "club_id": club.id.0,
            "club_name": "Bowmen of Invented Hill", "club_time_zone": "Europe/Lisbon",
            "club_quiet_hours": {"from": "21:00", "until": "07:00"}});
        assert_eq!(me, expected);
    });
}

#[test]
fn somebody_changes_their_name_their_zone_and_their_quiet_hours() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Tobin Larkmoor");
        let mut expected = archer.get("/me").expect(200);
        let hours = json!({"from": "20:00", "until": "08:00"});
        for (version, (patch, pointer, value)) in (1..).zip([
            (json!({"name": "Tobin L."}), "/name", json!("Tobin L.")),
            (json!({"time_zone": "America/Lima"}), "/time_zone", json!("America/Lima")),
            (json!({"quiet_hours": hours}), "/quiet_hours", hours.clone()),
            (json!({"quiet_hours": {"from": "19:00"}}), "/quiet_hours/from", json!("19:00")),
            (json!({"quiet_hours": null}), "/quiet_hours", Value::Null),
            (json!({"time_zone": null}), "/time_zone", Value::Null),
        ]) {
            *expected.pointer_mut(pointer).unwrap() = value;
            let answer = archer.patch("/me", &format!("\"{version}\""), &patch);
            assert_eq!(answer.expect(200), expected, "{patch}");
            assert_eq!(answer.header("etag"), format!("\"{}\"", version + 1));
        }
        assert_eq!(archer.get("/me").expect(200), expected);
    });
}

#[test]
fn nobody_changes_their_own_role_club_or_address() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Tobin Larkmoor");
        for (patch, pointer, code) in [
            (json!({"role": "owner"}), "/role", "unknown_field"),
            (json!({"club_id": club.id.0}), "/club_id", "unknown_field"),
            (json!({"email": "t@club.example"}), "/email", "unknown_field"),
            (json!({"minor_until": null}), "/minor_until", "unknown_field"),
            (json!({"guardian": null}), "/guardian", "unknown_field"),
            (json!({"name": ""}), "/name", "empty"),
            (json!({"name": null}), "/name", "wrong_type"),
            (json!({"time_zone": "Mars/Base"}), "/time_zone", "unknown_zone"),
            (json!({"quiet_hours": {"until": "08:00"}}), "/quiet_hours/from", "missing"),
            (
                json!({"quiet_hours": {"from": "x", "until": "08:00"}}),
                "/quiet_hours/from",
                "not_a_time_of_day",
            ),
        ] {
            archer.patch("/me", "*", &patch).refuses(422, pointer, code);
        }
        archer.patch("/me", "", &json!({"name": "T."})).problem(428);
        archer.patch("/me", "\"2\"", &json!({"name": "T."})).problem(412);
        club.anonymous().patch("/me", "*", &json!({"name": "T."})).problem(401);
        let me = archer.get("/me");
        assert_eq!((me.header("etag"), &me.json()["role"]), ("\"1\"", &json!("archer")));
    });
}

/// A device on which somebody signed in.
fn device(club: &Club, password: &str) -> Option<Person> {
    let body = json!({"email": "tobin.larkmoor@club.example", "password": password});
    let answer = club.anonymous().post("/auth/sign-in", &body);
    let token = || answer.json()["access_token"].as_str().unwrap().to_owned();
    (answer.status == 200).then(|| club.bearing(&token()))
}

#[test]
fn another_password_signs_out_of_every_other_device() {
    on_both(|database| {
        let club = Club::start(database);
        club.archer("Tobin Larkmoor");
        let devices = [0; 3].map(|_| device(&club, PASSWORD).unwrap());
        let new = "ten invented feathers";
        let body =
            |current: &str, new: &str| json!({"current_password": current, "new_password": new});
        let wrong = devices[1].post("/me/password", &body("not the one", new));
        wrong.refuses(422, "/current_password", "wrong_password");
        // Under a key too, although the password to come is the one that is in use.
        let long = body(&"x".repeat(257), PASSWORD);
        let long = devices[1].post_once("/me/password", "long", &long);
        long.refuses(422, "/current_password", "bad_length");
        let short = devices[1].post("/me/password", &body(PASSWORD, "short"));
        short.refuses(422, "/new_password", "bad_length");
        for device in &devices {
            device.get("/me").expect(200);
        }

        let answer = devices[1].post_once("/me/password", "once", &body(PASSWORD, new));
        assert_eq!(answer.status, 204, "{answer}");
        devices[0].get("/me").problem(401);
        devices[1].get("/me").expect(200);
        devices[2].get("/me").problem(401);
        assert!(device(&club, PASSWORD).is_none() && device(&club, new).is_some());
        // Sent again it is found done; without a key it is a wrong password.
        let again = devices[1].post_once("/me/password", "once", &body(PASSWORD, new));
        assert_eq!(again.status, 204, "{again}");
        let other = devices[1].post_once("/me/password", "two", &body(PASSWORD, "another one"));
        other.refuses(422, "/current_password", "wrong_password");
        let unkeyed = devices[1].post("/me/password", &body(PASSWORD, new));
        unkeyed.refuses(422, "/current_password", "wrong_password");
        let kept = "SELECT body_hash AS text FROM repeatable_requests ORDER BY key";
        assert_eq!(database.texts(kept), [""; 0], "nothing of a password is kept");
        club.anonymous().post("/me/password", &body(new, PASSWORD)).problem(401);
    });
}
