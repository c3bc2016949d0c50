//! A club's settings.

use serde_json::json;

use crate::support::{Club, on_both};

#[test]
fn every_member_reads_the_settings_and_an_owner_changes_them() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Tobin Larkmoor"));
        let answer = archer.get("/club");
        let mut expected = answer.expect(200);
        assert_eq!(answer.header("etag"), "\"1\"");
        let begins = json!({"id": club.id.0, "name": "Bowmen of Invented Hill",
            "time_zone": "Europe/Lisbon", "digest_at": "07:30",
            "quiet_hours": {"from": "21:00", "until": "07:00"}, "currency": "EUR",
            "bench_jobs_per_week": 4, "stages_days": [28, 14, 7, 2],
            "mails_per_day": 3, "nudge_after_days": null,
            "created_at": "2027-03-01T09:00:00Z"});
        assert_eq!(expected, begins);
        for (version, (patch, pointer, value)) in (1..).zip([
            (json!({"name": "Hill Bows"}), "/name", json!("Hill Bows")),
            (json!({"time_zone": "Asia/Kathmandu"}), "/time_zone", json!("Asia/Kathmandu")),
            (json!({"digest_at": "00:00"}), "/digest_at", json!("00:00")),
            (json!({"quiet_hours": {"from": "22:15"}}), "/quiet_hours/from", json!("22:15")),
            (json!({"currency": "SEK"}), "/currency", json!("SEK")),
            (json!({"bench_jobs_per_week": 0}), "/bench_jobs_per_week", json!(0)),
            (json!({"stages_days": [1, 365]}), "/stages_days", json!([365, 1])),
            (json!({"mails_per_day": 1}), "/mails_per_day", json!(1)),
            (json!({"nudge_after_days": 10}), "/nudge_after_days", json!(10)),
            (json!({"nudge_after_days": null}), "/nudge_after_days", json!(null)),
        ]) {
            *expected.pointer_mut(pointer).unwrap() = value;
            let answer = owner.patch("/club", &format!("\"{version}\""), &patch);
            assert_eq!(answer.expect(200), expected, "{patch}");
            assert_eq!(answer.header("etag"), format!("\"{}\"", version + 1));
        }
        assert_eq!(archer.get("/club").expect(200), expected);
        assert_eq!(archer.get("/me").expect(200)["club_time_zone"], "Asia/Kathmandu");
    });
}

#[test]
fn a_setting_that_cannot_be_is_refused_by_its_place() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        for (patch, pointer, code) in [
            (json!({"name": ""}), "/name", "empty"),
            (json!({"name": "Hill\nBows"}), "/name", "control_character"),
            (json!({"time_zone": "Mars/Base"}), "/time_zone", "unknown_zone"),
            (json!({"time_zone": "../../etc/passwd"}), "/time_zone", "unknown_zone"),
            (json!({"time_zone": null}), "/time_zone", "wrong_type"),
            (json!({"digest_at": "7:30"}), "/digest_at", "not_a_time_of_day"),
            (json!({"quiet_hours": {"until": "24:00"}}), "/quiet_hours/until", "not_a_time_of_day"),
            (json!({"quiet_hours": null}), "/quiet_hours", "wrong_type"),
            (json!({"quiet_hours": ["21:00", "07:00"]}), "/quiet_hours", "wrong_type"),
            (json!({"currency": "kr"}), "/currency", "not_a_currency"),
            (json!({"currency": "eur"}), "/currency", "not_a_currency"),
            (json!({"bench_jobs_per_week": -1}), "/bench_jobs_per_week", "out_of_range"),
            (json!({"bench_jobs_per_week": 1_001}), "/bench_jobs_per_week", "out_of_range"),
            (json!({"bench_jobs_per_week": 1.5}), "/bench_jobs_per_week", "wrong_type"),
            (json!({"stages_days": []}), "/stages_days", "bad_stages"),
            (json!({"stages_days": [7, 7]}), "/stages_days", "bad_stages"),
            (json!({"stages_days": [366]}), "/stages_days", "bad_stages"),
            (json!({"stages_days": [-1]}), "/stages_days", "bad_stages"),
            (json!({"id": club.id.0}), "/id", "unknown_field"),
        ] {
            owner.patch("/club", "*", &patch).refuses(422, pointer, code);
        }
        let name = json!({"name": "Hill Bows"});
        owner.patch("/club", "", &name).problem(428);
        owner.patch("/club", "\"2\"", &name).problem(412);
        for person in [club.archer("Tobin Larkmoor"), club.coach("Ferin Oakstave")] {
            person.patch("/club", "*", &name).problem(403);
        }
        club.anonymous().patch("/club", "*", &name).problem(401);
        club.anonymous().get("/club").problem(401);
        // Another club's owner changes another club.
        club.neighbour().patch("/club", "*", &name).expect(200);
        assert_eq!(owner.get("/club").header("etag"), "\"1\"");
    });
}
