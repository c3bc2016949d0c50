//! Out of the invented club of the demo, into the database of a club that was just set up, and out again:
//! not a byte differs.

use std::time::Instant;

use serde_json::json;
use store::{
    Page, StoreError,
    testing::{Fresh, postgres, sqlite},
};

use super::{TABLES, export, rows, send};
use crate::{
    program::{SECRET, setting},
    support::{Club, Program, Scratch, name_of},
};

/// Who owns the demo's club.
const OWNER: (&str, &str) = ("Odile Marrowgate", "odile@larkspur.example");

#[test]
fn the_demo_comes_back_byte_for_byte_from_an_empty_server() {
    let (demo, other, last) = (sqlite(), postgres(), sqlite());
    fill(&demo);
    // From the one database into the other, and back into the first.
    check_copy(&demo, &other);
    check_copy(&other, &last);
}

/// Makes the invented club.
fn fill(database: &Fresh) {
    let (folder, url) = (Scratch::new(), setting(database));
    let settings = [("TAUTLINE_DATABASE_URL", url.as_str()), ("TAUTLINE_SECRET", SECRET)];
    let demo = ["demo", "--once", "--today", "2027-03-14"];
    let ended = Program::run(folder.path(), &settings, &demo);
    assert_eq!(ended.code, Some(0), "{ended:?}");
}

/// All tables of a database as files, written from the command line.
fn files_of(database: &Fresh) -> [String; 7] {
    let (folder, url) = (Scratch::new(), setting(database));
    let settings = [("TAUTLINE_DATABASE_URL", url.as_str()), ("TAUTLINE_SECRET", SECRET)];
    TABLES.map(|table| {
        let export = ["export", table, "--out", "table.csv"];
        let written = Program::run(folder.path(), &settings, &export);
        assert_eq!(written.code, Some(0), "{written:?}");
        std::fs::read_to_string(folder.path().join("table.csv")).unwrap()
    })
}

/// Brings the record of one database into another, and checks that it is the same there.
fn check_copy(source: &Fresh, target: &Fresh) {
    let (began, files) = (Instant::now(), files_of(source));
    let club = Club::set_up_by(target, "2027-03-14T09:00:00Z".parse().unwrap(), OWNER);
    let owner = club.owner();
    let mut told = Vec::new();
    for (table, file) in TABLES.iter().zip(&files) {
        let report = send(owner, &format!("table={table}&dry_run=false"), file).expect(200);
        let [read, new, there, refused] = rows(&report);
        // The owner who set the club up is the demo's.
        let known = u64::from(*table == "members");
        assert_eq!((new, there, refused), (read - known, known, 0), "{table}: {report}");
        assert!(report["written"] == json!(true) && read > 0, "{table}: {report}");
        told.push(format!("{table} {read}"));
    }
    for (table, file) in TABLES.iter().zip(&files) {
        check_same(table, &export(owner, table), file);
        let again = send(owner, &format!("table={table}&dry_run=false"), file).expect(200);
        let read = rows(&again)[0];
        assert_eq!(rows(&again), [read, 0, read, 0], "{table}: {again}");
        check_same(table, &export(owner, table), file);
    }
    // Nobody was written to.
    assert_eq!(club.outbox().len(), 0);
    // Wear and stops follow from what was brought in.
    let (before, after) = (reckoned(source), reckoned(target));
    assert!(before.lines().count() > 100 && !before.starts_with("{}"), "{before}");
    assert_eq!(after, before);
    let (from, to) = (name_of(source), name_of(target));
    println!("{from} to {to}: {}, in {} s", told.join(", "), began.elapsed().as_secs());
}

/// Passes two files without a byte between them; shows the first line that differs.
#[track_caller]
fn check_same(table: &str, now: &str, before: &str) {
    let differing = now.split_inclusive('\n').zip(before.split_inclusive('\n'));
    let differing = differing.enumerate().find(|(_, (now, before))| now != before);
    assert_eq!(differing, None, "{table}");
    assert_eq!(now.len(), before.len(), "{table}");
}

/// What every clock of every part shows, and what must not be shot.
fn reckoned(database: &Fresh) -> String {
    let store = database.open();
    let runtime = tokio_runtime();
    runtime
        .block_on(store.read(|read| {
            let club = store::clubs::ids(read)?[0];
            let parts = store::parts::list(read, club, Page { after: None, limit: u32::MAX })?;
            let mut found = vec![format!("{:?}", store::stops::parts(read, club)?)];
            for part in parts {
                let readings = store::wear::readings(read, club, part.id)?;
                found.push(format!("{} {readings:?}", part.id));
            }
            Ok::<_, StoreError>(found.join("\n"))
        }))
        .unwrap()
}

fn tokio_runtime() -> tokio::runtime::Runtime {
    tokio::runtime::Builder::new_current_thread().build().unwrap()
}
