//! Fields whose value cannot be.

use serde_json::{Value, json};

use super::{check_faults, fault, operations, refused_on_both};

/// What a field takes that counts shots, as it stands in the JSON, and what is wrong with it.
const SHOTS: [(&str, &str); 14] = [
    ("0", "too_few"),
    ("-1", "too_few"),
    ("-9223372036854775808", "too_few"),
    ("2001", "too_many"),
    ("9223372036854775807", "too_many"),
    ("12.5", "wrong_type"),
    ("1e3", "wrong_type"),
    ("1e10", "wrong_type"),
    ("99999999999999999999", "wrong_type"),
    ("\"12\"", "wrong_type"),
    ("null", "wrong_type"),
    ("true", "wrong_type"),
    ("[12]", "wrong_type"),
    ("{}", "wrong_type"),
];

#[test]
fn shots_that_cannot_be_are_refused_by_their_place() {
    refused_on_both(|club, kit| {
        let owner = club.owner();
        for (shots, code) in SHOTS {
            let log = format!(
                r#"{{"bow_id":"{}","at":"2027-03-01T08:30:00Z","shots":{shots}}}"#,
                kit.bow
            );
            owner.post_text("/shot-logs", &log).refuses(422, "/shots", code);
            let good = log.replace(&format!("\"shots\":{shots}"), "\"shots\":3");
            let batch = format!(r#"{{"mode":"atomic","entries":[{good},{log}]}}"#);
            let refused = owner.post_text("/shot-logs/batch", &batch);
            refused.refuses(422, "/entries/1/shots", code);
        }
        for shots in ["NaN", "Infinity", "-", "1.", "0x10", "012", "+5", ""] {
            let log = format!(r#"{{"bow_id":"{}","at":"2027-03-01","shots":{shots}}}"#, kit.bow);
            owner.post_text("/shot-logs", &log).problem(400);
        }
    });
}

#[test]
fn times_that_cannot_be_are_refused_wherever_a_time_is_taken() {
    refused_on_both(|club, kit| {
        let owner = club.owner();
        let operations = operations(kit);
        for (path, body) in operations.iter().filter(|(_, body)| body.get("at").is_some()) {
            for (at, code) in [
                ("2027-03-01T09:10:01Z", "in_future"),
                ("2027-03-01T08:30:00", "no_offset"),
                ("0001-01-01T00:00:00Z", "out_of_range"),
                ("1969-12-31T23:59:59Z", "out_of_range"),
                ("2200-01-01T00:00:00Z", "out_of_range"),
                ("9999-12-30T00:00:00Z", "out_of_range"),
                ("9999-12-31T23:59:59Z", "not_a_time"),
                ("2027-02-28T24:00:00Z", "not_a_time"),
                ("2027-02-29T08:30:00Z", "not_a_time"),
                ("2027-02-28T08:60:00Z", "not_a_time"),
                ("2027-02-28T08:30:00+99:00", "not_a_time"),
                ("2027-02-28T08:30:00Z[Europe/Lisbon]", "not_a_time"),
                ("1772353800", "not_a_time"),
                ("yesterday, 2027", "not_a_time"),
            ] {
                // A log takes a date too, so what is no longer than one is read as one.
                let is_log = path == "/shot-logs" && at.len() <= 10;
                let code = if is_log { "not_a_date" } else { code };
                let mut body = body.clone();
                body["at"] = json!(at);
                owner.post(path, &body).refuses(422, "/at", code);
            }
        }
        for (day, code) in
            [("2027-02-29", "not_a_date"), ("27-2-1", "not_a_date"), ("1969-12-31", "out_of_range")]
        {
            let log = json!({"bow_id": kit.bow, "at": day, "shots": 3});
            owner.post("/shot-logs", &log).refuses(422, "/at", code);
        }
    });
}

#[test]
fn no_name_or_note_can_break_a_line_or_turn_the_text() {
    refused_on_both(|club, kit| {
        let names = [
            ("/setup", "/club/name"),
            ("/setup", "/owner/name"),
            ("/bows", "/name"),
            ("/parts", "/name"),
            ("/parts", "/material"),
            ("/members", "/name"),
            ("/squads", "/name"),
            ("/events", "/name"),
            ("/retirement", "/reason"),
            ("/string-change", "/new_part/name"),
            ("/string-change", "/servings/0/name"),
            ("/string-change", "/old/reason"),
        ];
        for evil in [
            "Blue\r\nBcc: all@club.example",
            "Blue\nbow",
            "Blue\rbow",
            "Blue\u{0}bow",
            "Blue\u{2028}bow",
            "Blue\u{202e}wob",
            "Blue\u{85}bow",
        ] {
            let faults =
                names.map(|(path, pointer)| fault(path, pointer, json!(evil), "control_character"));
            check_faults(club.owner(), kit, &faults);
        }
        for (path, pointer) in names {
            check_faults(
                club.owner(),
                kit,
                &[
                    fault(path, pointer, json!(" \t "), "empty"),
                    fault(path, pointer, json!("x".repeat(201)), "too_long"),
                    fault(path, pointer, json!(7), "wrong_type"),
                ],
            );
        }
        let notes = [
            ("/shot-logs", "/note"),
            ("/upkeep", "/note"),
            ("/incidents", "/note"),
            ("/string-change", "/nocking_point/note"),
            ("/string-change", "/setup/note"),
        ];
        for (path, pointer) in notes {
            check_faults(
                club.owner(),
                kit,
                &[
                    fault(path, pointer, json!("a\u{0}b"), "control_character"),
                    fault(path, pointer, json!("a\u{1b}[2Jb"), "control_character"),
                    fault(path, pointer, json!("x".repeat(2_001)), "too_long"),
                ],
            );
        }
    });
}

#[test]
fn words_and_measures_outside_their_lists_and_ranges_are_refused() {
    refused_on_both(|club, kit| {
        let faults = [
            fault("/setup", "/club/time_zone", json!("Mars/Base"), "unknown_zone"),
            fault("/setup", "/club/time_zone", json!("../../etc/passwd"), "unknown_zone"),
            fault("/setup", "/club/digest_at", json!("24:00"), "not_a_time_of_day"),
            fault("/setup", "/club/digest_at", json!("7:30"), "not_a_time_of_day"),
            fault("/setup", "/owner/email", json!("odo"), "malformed"),
            fault(
                "/setup",
                "/owner/email",
                json!("odo@club.example\r\nBcc: x@y.example"),
                "malformed",
            ),
            fault("/setup", "/owner/email", json!("odo@club"), "bad_domain"),
            fault("/setup", "/owner/email", json!("\u{43e}do@club.example"), "not_ascii"),
            fault("/setup", "/owner/password", json!("1234567"), "bad_length"),
            fault("/setup", "/owner/password", json!("x".repeat(257)), "bad_length"),
            fault("/bows", "/division", json!("crossbow"), "unknown_word"),
            fault("/bows", "/division", json!("Recurve"), "unknown_word"),
            fault("/bows", "/bow_length_in", json!(23.9), "out_of_range"),
            fault("/bows", "/bow_length_in", json!(90.1), "out_of_range"),
            fault("/bows", "/bow_length_in", json!("68"), "wrong_type"),
            fault("/bows", "/draw_weight_lbf", json!(0), "out_of_range"),
            fault("/bows", "/draw_weight_lbf", json!(1e300), "out_of_range"),
            fault("/bows", "/owner_member_id", json!(kit.bow), "unknown_member"),
            fault("/bows", "/archer_member_id", json!("me"), "wrong_type"),
            fault("/parts", "/kind", json!("feather"), "unknown_word"),
            fault("/parts", "/strands", json!(1), "out_of_range"),
            fault("/parts", "/strands", json!(101), "out_of_range"),
            fault("/parts", "/made_on", json!("2027-02-30"), "not_a_date"),
            fault("/parts", "/unit_cost", json!(-0.01), "out_of_range"),
            fault("/parts", "/unit_cost", json!(1e12), "out_of_range"),
            fault("/members", "/email", json!("odo"), "malformed"),
            fault("/members", "/email", json!("odo@club"), "bad_domain"),
            fault("/members", "/email", json!("\u{43e}do@club.example"), "not_ascii"),
            fault("/members", "/role", json!("emperor"), "unknown_word"),
            fault("/members", "/time_zone", json!("Mars/Base"), "unknown_zone"),
            fault("/members", "/minor_until", json!("2027-02-30"), "not_a_date"),
            fault("/members", "/squad_ids", json!("all"), "wrong_type"),
            fault("/squads", "/coach_member_ids", json!("me"), "wrong_type"),
            fault("/me/password", "/new_password", json!("1234567"), "bad_length"),
            fault("/me/password", "/new_password", json!("x".repeat(257)), "bad_length"),
            fault("/shot-logs", "/kind", json!("fun"), "unknown_word"),
            fault("/shot-logs", "/id", json!("17"), "wrong_type"),
            fault("/shot-logs", "/id", json!(uuid::Uuid::nil()), "nil_id"),
            fault("/shot-logs", "/bow_id", json!(null), "wrong_type"),
            fault("/shot-logs", "/sent_at", json!("noon"), "not_a_time"),
            fault("/shot-logs/batch", "/mode", json!("some"), "unknown_word"),
            fault("/upkeep", "/task", json!("polished"), "unknown_word"),
            fault("/upkeep", "/task", json!("replaced"), "not_upkeep"),
            fault("/retirement", "/end", json!("tired"), "unknown_word"),
            fault("/incidents", "/kind", json!("dropped"), "unknown_word"),
            fault("/upkeep", "/findings", json!([]), "not_inspected"),
            fault("/upkeep", "/measured_mm", json!(3), "not_measured"),
            fault("/string-change", "/old/end", json!("tired"), "unknown_word"),
            fault("/string-change", "/servings/0/kind", json!("string"), "unknown_word"),
            fault("/string-change", "/new_part/strands", json!(1), "out_of_range"),
            fault("/string-change", "/new_part/made_on", json!("2027-02-30"), "not_a_date"),
            fault("/string-change", "/nocking_point/measured_mm", json!(101), "out_of_range"),
            fault("/string-change", "/setup/brace_height_mm", json!(8.75), "out_of_range"),
        ];
        check_faults(club.owner(), kit, &faults);
    });
}

#[test]
fn starting_shots_go_with_their_time_and_stay_in_their_range() {
    refused_on_both(|club, _| {
        let refuse = |starting: Value, pointer: &str, code: &str| {
            let mut part = json!({"kind": "string", "name": "Old one"});
            part.as_object_mut().unwrap().extend(starting.as_object().unwrap().clone());
            club.owner().post("/parts", &part).refuses(422, pointer, code);
        };
        let at = "2027-02-01T00:00:00Z";
        refuse(json!({"starting_shots": 10}), "/starting_at", "missing");
        refuse(json!({"starting_at": at}), "/starting_shots", "missing");
        refuse(json!({"starting_shots": -1, "starting_at": at}), "/starting_shots", "out_of_range");
        refuse(
            json!({"starting_shots": 1_000_001, "starting_at": at}),
            "/starting_shots",
            "out_of_range",
        );
        refuse(
            json!({"starting_shots": 1, "starting_at": "2027-04-01T00:00:00Z"}),
            "/starting_at",
            "in_future",
        );
    });
}

#[test]
fn every_fault_of_a_body_is_named_at_once() {
    refused_on_both(|club, _| {
        let bow = json!({"name": "", "division": "crossbow", "bow_length_in": 1,
            "draw_weight_lbf": 1_000});
        let problem = club.owner().post("/bows", &bow).problem(422);
        let pointers: Vec<&Value> =
            problem["errors"].as_array().unwrap().iter().map(|error| &error["pointer"]).collect();
        assert_eq!(pointers, ["/name", "/division", "/bow_length_in", "/draw_weight_lbf"]);
    });
}

#[test]
fn clearances_and_work_that_cannot_be_are_refused() {
    refused_on_both(|club, kit| {
        let faults = [
            fault("/upkeep", "/task", json!("re_served"), "wrong_task"),
            fault("/clearance", "/reason", json!(""), "empty"),
            fault("/clearance", "/reason", json!(" \n"), "empty"),
            fault("/clearance", "/reason", json!("x".repeat(2_001)), "too_long"),
            fault("/clearance", "/reason", json!(null), "wrong_type"),
            fault("/clearance", "/part_ids", json!("one"), "wrong_type"),
            fault("/clearance", "/part_ids/0", json!("one"), "wrong_type"),
            fault("/clearance", "/part_ids/0", json!(kit.bow), "not_under_bow"),
            fault("/clearance", "/part_ids", json!(vec![kit.string.clone(); 101]), "bad_length"),
        ];
        check_faults(club.owner(), kit, &faults);
    });
}
