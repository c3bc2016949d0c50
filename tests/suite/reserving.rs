//! Winding a new serving: the old one's life ends and the new one's begins, on the same string.

use serde_json::{Value, json};

use crate::support::{Club, Kit, on_both};

#[test]
fn a_serving_that_is_wound_anew_is_retired_and_its_successor_counts_from_nothing() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let log = |at: &str, shots: u32| {
            let log = json!({"bow_id": kit.bow, "at": at, "shots": shots});
            owner.post("/shot-logs", &log).expect(201);
        };
        log("2027-03-01T06:00:00Z", 100);
        let work = json!({"part_id": kit.serving, "task": "re_served",
            "at": "2027-03-01T07:00:00Z", "note": "Came loose\nat the top"});
        let done = owner.post("/upkeep", &work).expect(201);
        let successor = done["successor"]["id"].as_str().unwrap().to_owned();
        assert_eq!(done["note"], "Came loose\nat the top");
        assert_eq!(done["part"]["condition"], "retired");
        assert_eq!(done["part"]["retirement"]["at"], "2027-03-01T07:00:00Z");
        assert_eq!(done["successor"]["kind"], "center_serving");
        assert_eq!(done["successor"]["bow_id"], json!(kit.bow));
        assert_eq!(done["successor"]["retirement"], Value::Null);

        // One log after it, and one before it that comes in late.
        log("2027-03-01T08:00:00Z", 20);
        log("2027-03-01T06:59:59Z", 3);
        let shots = |part: &str| Kit::shots(owner, part);
        assert_eq!(shots(&kit.serving), json!(103));
        assert_eq!(shots(&successor), json!(20));
        assert_eq!(shots(&kit.string), json!(123));

        owner.post("/upkeep", &work).refuses(409, "", "part_retired");
        let again = json!({"part_id": successor, "host_part_id": kit.string,
            "at": "2027-03-01T08:30:00Z"});
        owner.post("/fittings", &again).refuses(409, "", "part_fitted_elsewhere");
        let parts = owner.get("/parts").expect(200);
        assert_eq!(parts["data"].as_array().unwrap().len(), 3, "{parts}");
    });
}

#[test]
fn only_a_serving_in_use_can_be_wound_anew_and_not_before_it_was_fitted() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let re_serve = |part: &str, at: &str| {
            let work = json!({"part_id": part, "task": "re_served", "at": at});
            owner.post("/upkeep", &work)
        };
        re_serve(&kit.string, "2027-03-01T07:00:00Z").refuses(422, "/task", "wrong_task");
        re_serve(&kit.serving, "2027-02-27T07:00:00Z").refuses(422, "/at", "before_last_fitting");
        re_serve(&kit.serving, "2027-03-02T07:00:00Z").refuses(422, "/at", "in_future");
        let part = owner.get(&format!("/parts/{}", kit.serving)).expect(200);
        assert_eq!(part["retirement"], Value::Null);
        let parts = owner.get("/parts").expect(200);
        assert_eq!(parts["data"].as_array().unwrap().len(), 2, "{parts}");
    });
}

#[test]
fn a_reminder_of_the_old_serving_is_not_mailed_after_it_was_wound_anew() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let archer = club.archer("Tobin Larkmoor");
        let kit = Kit::of(&club, owner, Some(archer.id()));
        for day in ["2027-02-28T10:00:00Z", "2027-03-01T08:00:00Z"] {
            let log = json!({"bow_id": kit.bow, "at": day, "shots": 1_400});
            archer.post("/shot-logs", &log).expect(201);
        }
        let waxed = json!({"part_id": kit.string, "task": "waxed", "at": "2027-03-01T08:30:00Z"});
        owner.post("/upkeep", &waxed).expect(201);
        Kit::measured(owner, &kit.string, "2027-03-01T08:30:00Z");
        // 2,800 shots: to be inspected, and soon to be served anew.
        assert_eq!(club.sweep()["check_maintenance"], 2);
        let work = json!({"part_id": kit.serving, "task": "re_served",
            "at": "2027-03-01T08:45:00Z"});
        owner.post("/upkeep", &work).expect(201);
        Kit::measured(owner, &kit.string, "2027-03-01T08:50:00Z");
        club.clock.set("2027-03-02T07:30:00Z".parse().unwrap());
        assert_eq!(club.sweep(), json!({"check_maintenance": 0, "deliver_mail": 0}));
        // The archer's digest, and the owner's list for the bench.
        assert_eq!(club.mail_states(), [domain::mail::MailState::Cancelled; 2]);
        assert!(club.mails().is_empty());
        let told = archer.get("/reminders").expect(200);
        let states = told["data"].as_array().unwrap().iter().map(|one| &one["state"]);
        assert_eq!(states.collect::<Vec<_>>(), ["cancelled", "cancelled"]);
    });
}
