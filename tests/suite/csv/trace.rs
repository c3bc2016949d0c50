//! What an import leaves beside its rows: one record of the change, and what the worker makes of it.

use aws_lc_rs::digest::{SHA256, digest};
use serde_json::{Value, json};

use super::send;
use crate::{
    program::{SECRET, setting},
    support::{Club, Kit, Person, Program, Scratch, on_both},
};

/// The records of imports that somebody reads, the last one first.
#[track_caller]
fn imports(by: &Person) -> Vec<Value> {
    let list = by.get("/audit?limit=200&operation=import_table").expect(200);
    list["data"].as_array().unwrap().clone()
}

fn sha256(file: &str) -> String {
    let hash = digest(&SHA256, file.as_bytes());
    let digits = hash.as_ref().iter().flat_map(|byte| [byte >> 4, byte & 15]);
    digits.filter_map(|digit| char::from_digit(u32::from(digit), 16)).collect()
}

const FILE: &str = "name;division;bow_length_in;draw_weight_lbf\nOne;recurve;68;36\n\
                    Two;recurve;68;36\n";

#[test]
fn an_import_that_was_written_leaves_one_record_and_others_leave_none() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        send(owner, "table=bows", FILE).expect(200);
        let bad = FILE.replace("Two;recurve", "Two;catapult");
        send(owner, "table=bows&dry_run=false", &bad).problem(422);
        send(owner, "table=bows&dry_run=false", "name\n").problem(422);
        assert_eq!(imports(owner), [json!(null); 0]);

        send(owner, "table=bows&dry_run=false&mode=each", &bad).expect(200);
        send(owner, "table=bows&dry_run=false", FILE).expect(200);
        let found = imports(owner);
        let after: Vec<&Value> = found.iter().map(|change| &change["after"]).collect();
        let said = |file| json!({"table": "bows", "rows_new": 1, "sha256": sha256(file)});
        assert_eq!(after, [&said(FILE), &said(&bad)]);
        let club_id = owner.get("/me").expect(200)["club_id"].clone();
        for (field, value) in [
            ("by_member_id", json!(owner.id().0)),
            ("subject", json!("club")),
            ("subject_id", club_id),
            ("bow_id", Value::Null),
            ("before", Value::Null),
        ] {
            assert_eq!(found[0][field], value, "{field}");
        }
        // What an archer brings in is on record too, and owners read of it.
        let archer = club.archer("Tobin Larkmoor");
        let kit = Kit::of(&club, owner, Some(archer.id()));
        let log = format!("bow_id,at,shots\n{},2027-03-01T08:00:00Z,30\n", kit.bow);
        send(&archer, "table=shot_logs&dry_run=false", log).expect(200);
        let last = imports(owner).swap_remove(0);
        assert_eq!(
            (&last["by_member_id"], last["after"]["rows_new"].as_u64()),
            (&json!(archer.id().0), Some(1))
        );
        assert_eq!(imports(&archer), [json!(null); 0]);
    });
}

#[test]
fn an_import_at_the_command_line_is_on_record_as_nobodys() {
    on_both(|database| {
        let club = Club::start(database);
        let (folder, url) = (Scratch::new(), setting(database));
        let settings = [("TAUTLINE_DATABASE_URL", url.as_str()), ("TAUTLINE_SECRET", SECRET)];
        std::fs::write(folder.path().join("bows.csv"), FILE).unwrap();
        let shown = Program::run(folder.path(), &settings, &["import", "bows", "bows.csv"]);
        assert_eq!(shown.code, Some(0), "{shown:?}");
        assert_eq!(imports(club.owner()), [json!(null); 0]);
        let write = ["import", "bows", "bows.csv", "--write"];
        let written = Program::run(folder.path(), &settings, &write);
        assert_eq!(written.code, Some(0), "{written:?}");
        let found = imports(club.owner());
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0]["by_member_id"], Value::Null);
        let said = json!({"table": "bows", "rows_new": 2, "sha256": sha256(FILE)});
        assert_eq!(found[0]["after"], said);
    });
}

#[test]
fn what_forbids_shooting_is_mailed_by_the_next_round_of_the_worker() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        club.sweep();
        let before = club.outbox().len();
        let file = format!("bow_id,kind,at\n{},dry_fire,2027-03-01T08:30:00Z\n", kit.bow);
        send(owner, "table=incidents&dry_run=false", file).expect(200);
        assert_eq!(club.outbox().len(), before);
        club.sweep();
        assert!(club.outbox().len() > before);
    });
}
