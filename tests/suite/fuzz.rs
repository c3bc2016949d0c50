//! Whatever the API's document allows and forbids, sent by a stranger's generator to a server with a
//! club on it: no answer is a 5xx, none is other than the document says, and no connection is dropped.
//!
//! `TAUTLINE_TEST_EXAMPLES` says how many examples each operation gets, `TAUTLINE_TEST_SEED` which.
//! What is checked in every answer stands in `tests/tools/fuzz.toml`.

use std::{
    fs::{self, File},
    path::Path,
    process::Command,
    thread,
    time::{Duration, Instant},
};

use jiff::SignedDuration;
use serde_json::{Value, json};
use store::testing::{Fresh, sqlite};

use crate::support::{Club, Kit, Scratch, python};

/// The times in the document's examples are a little before this.
const NOW: &str = "2026-02-01T09:00:00Z";
/// Access tokens hold for fifteen minutes: the clock of the club stops before they run out.
const HOLDS: SignedDuration = SignedDuration::from_mins(14);
const STEP: Duration = Duration::from_millis(100);

#[test]
fn whatever_a_generator_sends_is_answered_as_the_document_says() {
    let database = sqlite();
    let club = club_on(&database);
    let folder = Scratch::new();
    list_ids(&club, folder.path());
    let began = Instant::now();
    let (succeeded, printed) = generate(&club, folder.path());
    let seconds = began.elapsed().as_secs();
    assert!(succeeded, "{printed}");

    let report = fs::read(folder.path().join("report.json")).unwrap();
    let report: Value = serde_json::from_slice(&report).unwrap();
    let count = |pointer: &str| report.pointer(pointer).unwrap().as_u64().unwrap();
    let (operations, cases) = (count("/operations/tested"), count("/test_cases/generated"));
    println!("{operations} operations, {cases} cases, {seconds} s, seed {}", setting("SEED", "1"));
    // That it succeeded says little if it left something out, or gave up before its end.
    assert_eq!(report["complete"], true, "{printed}");
    assert_eq!((&report["failures"], &report["errors"]), (&json!([]), &json!([])), "{printed}");
    assert_eq!(operations, count("/operations/total"), "{printed}");
    assert_eq!(operations, documented(), "{printed}");
    for phase in ["examples", "coverage", "fuzzing", "stateful"] {
        assert_eq!(report["phases"][phase]["status"], "success", "{phase}: {printed}");
    }
    club.owner().get("/me").expect(200);
}

/// How many operations the document has.
fn documented() -> u64 {
    let document: Value = serde_json::from_str(&api::openapi_json().unwrap()).unwrap();
    let items = document["paths"].as_object().unwrap().values();
    items.map(|item| u64::try_from(item.as_object().unwrap().len()).unwrap()).sum()
}

/// A club with somebody in a squad, a bow that was shot, a rule, an event and a script's token.
fn club_on(database: &Fresh) -> Club {
    let club = Club::start_at(database, NOW.parse().unwrap(), None);
    let owner = club.owner();
    let archer = club.archer("Tobin Larkmoor");
    let squad = json!({"name": "Thursdays", "archer_member_ids": [archer.id().0]});
    owner.post("/squads", &squad).expect(201);
    let kit = Kit::of(&club, owner, Some(archer.id()));
    for hour in 1..9 {
        let log = json!({"bow_id": kit.bow, "at": format!("2026-02-01T0{hour}:00:00Z"),
            "shots": 60});
        owner.post("/shot-logs", &log).expect(201);
    }
    let event = json!({"name": "Invented Cup", "starts_on": "2026-03-01", "ends_on": "2026-03-02",
        "priority": "major", "arrows_expected": 144});
    owner.post("/events", &event).expect(201);
    owner.post("/tokens", &json!({"name": "Bench", "scope": "log"})).expect(201);
    owner.post("/feeds", &json!({"name": "Phone", "scope": "squad"})).expect(201);
    // Somebody is reminded of what is due by then.
    club.sweep();
    club
}

/// Lists the ids of what is there, by kind, as the generator reads them.
fn list_ids(club: &Club, folder: &Path) {
    let owner = club.owner();
    let of = |list: &str| -> Vec<String> {
        let rows = owner.get(list).expect(200)["data"].clone();
        rows.as_array().unwrap().iter().map(|row| row["id"].as_str().unwrap().to_owned()).collect()
    };
    let write = |kind: &str, ids: &[String]| {
        assert!(!ids.is_empty(), "there are no {kind}");
        let lines: Vec<String> = ids.iter().map(|id| format!("{id:?}\n")).collect();
        fs::write(folder.join(format!("{kind}.txt")), lines.concat()).unwrap();
    };
    let kinds =
        ["bows", "parts", "shot-logs", "squads", "events", "rules", "tokens", "feeds", "reminders"];
    let mut all = Vec::new();
    for kind in kinds {
        let ids = of(&format!("/{kind}"));
        write(&kind.replace('-', "_"), &ids);
        all.extend(ids.into_iter().take(2));
    }
    let bow = &of("/bows")[0];
    write("fittings", &of(&format!("/fittings?bow_id={bow}")));
    // The owner stays: whoever is signed in must not leave.
    let mut people = of("/members");
    people.retain(|id| *id != owner.id().to_string());
    write("members", &people);
    all.extend(people);
    write("ids", &all);
}

/// A setting of the test run.
fn setting(name: &str, default: &str) -> String {
    #[expect(clippy::disallowed_methods, reason = "a test's own setting, not the program's")]
    std::env::var(format!("TAUTLINE_TEST_{name}")).unwrap_or_else(|_unset| default.to_owned())
}

/// Runs the generator in a folder: whether it found nothing, and what it printed.
fn generate(club: &Club, folder: &Path) -> (bool, String) {
    let config = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/tools/fuzz.toml");
    fs::copy(config, folder.join("fuzz.toml")).unwrap();
    // Handed over as a file: one that it fetches itself is left out of what it asks for.
    let served = club.anonymous().send("GET", "/api/openapi.json", None);
    fs::write(folder.join("openapi.json"), served.body).unwrap();
    let printed = File::create(folder.join("printed.txt")).unwrap();
    let mut run: Command = python();
    run.args(["-m", "schemathesis.cli", "--config-file", "fuzz.toml", "run"])
        .args(["openapi.json", "--url", club.base()])
        .args(["--header", &format!("Authorization: Bearer {}", club.owner().token().unwrap())])
        .args(["--max-examples", &setting("EXAMPLES", "20"), "--seed", &setting("SEED", "1")])
        .args(["--workers", "2", "--request-timeout", "30", "--continue-on-failure", "--no-color"])
        .args(["--report", "json", "--report-json-path", "report.json"])
        .current_dir(folder)
        .stdout(printed.try_clone().unwrap())
        .stderr(printed);
    let mut running = run.spawn().unwrap();
    let (mut ahead, step) = (SignedDuration::ZERO, SignedDuration::try_from(STEP).unwrap());
    let ended = loop {
        if let Some(ended) = running.try_wait().unwrap() {
            break ended;
        }
        thread::sleep(STEP);
        // The club's clock goes on, so that whoever came too often may come again.
        if ahead < HOLDS {
            ahead += step;
            club.clock.advance(step);
        }
    };
    (ended.success(), fs::read_to_string(folder.join("printed.txt")).unwrap())
}
