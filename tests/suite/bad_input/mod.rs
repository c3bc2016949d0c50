//! What nobody should send: each is refused with a problem document that names the fault, and
//! nothing is written.

mod conflicts;
mod fields;
mod other_clubs;
mod requests;
mod roles;
mod tokens;

use serde_json::{Value, json};
use store::{DatabaseUrl, testing::Fresh};

use crate::support::{Club, Kit, Person, on_both};

/// Every table, so that nothing can be written unseen; but for `NOT_WATCHED`.
pub(crate) const TABLES: [&str; 31] = [
    "clubs",
    "members",
    "logins",
    "squads",
    "squad_members",
    "script_tokens",
    "one_time_links",
    "repeatable_requests",
    "bows",
    "bow_clearances",
    "bow_stops",
    "parts",
    "fittings",
    "shot_logs",
    "bow_days",
    "wear",
    "upkeep",
    "findings",
    "incidents",
    "stops",
    "events",
    "blocked_days",
    "entries",
    "rules",
    "rule_settings",
    "reminders",
    "outbox",
    "stopped_mail",
    "disowned_bows",
    "feeds",
    "audit",
];

/// Whoever tries has to sign in; and what migrations ran is no record of a club.
const NOT_WATCHED: [&str; 2] = ["sign_ins", "__diesel_schema_migrations"];

/// How much is on record.
pub(crate) fn on_record(database: &Fresh) -> Vec<String> {
    let rows = TABLES.map(|table| format!("SELECT CAST(COUNT(*) AS TEXT) AS text FROM {table}"));
    let sums = [
        "SELECT CAST(COALESCE(SUM(shots), 0) AS TEXT) AS text FROM wear",
        "SELECT CAST(COUNT(*) AS TEXT) AS text FROM fittings WHERE to_at IS NOT NULL",
        "SELECT CAST(COUNT(*) AS TEXT) AS text FROM parts WHERE retired_at IS NOT NULL",
    ];
    rows.iter().map(String::as_str).chain(sums).flat_map(|sql| database.texts(sql)).collect()
}

#[test]
fn every_table_is_watched() {
    let [sqlite, postgres] = on_both(|database| {
        drop(database.open());
        database.texts(match database.url {
            DatabaseUrl::Sqlite(_) => {
                "SELECT name AS text FROM sqlite_master WHERE type = 'table' ORDER BY text"
            }
            DatabaseUrl::Postgres(_) => {
                "SELECT CAST(table_name AS TEXT) AS text FROM information_schema.tables \
                 WHERE table_schema = 'public' ORDER BY text"
            }
        })
    });
    assert_eq!(sqlite, postgres);
    let known = |table: &str| TABLES.contains(&table) || NOT_WATCHED.contains(&table);
    let unseen: Vec<_> = sqlite.iter().filter(|table| !known(table.as_str())).collect();
    assert!(unseen.is_empty(), "nobody watches {unseen:?}");
    assert_eq!(
        sqlite.len(),
        TABLES.len() + NOT_WATCHED.len(),
        "a table is named that is not there"
    );
}

/// A club with a strung and served bow, and what is tried on it; afterwards as much is on record as
/// before.
fn refused_on_both(attempt: impl Fn(&Club, &Kit)) {
    on_both(|database| {
        let club = Club::start(database);
        let kit = Kit::of(&club, club.owner(), None);
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:00:00Z", "shots": 30});
        club.owner().post("/shot-logs", &log).expect(201);
        let before = on_record(database);
        attempt(&club, &kit);
        assert_eq!(on_record(database), before, "something was written");
    });
}

/// Every operation that takes a body, with one that the owner could send.
pub(crate) fn operations(kit: &Kit) -> Vec<(String, Value)> {
    let at = "2027-03-01T08:30:00Z";
    let log = json!({"bow_id": kit.bow, "at": at, "shots": 30});
    let of = |path: &str, body: Value| (path.to_owned(), body);
    vec![
        of("/setup", set_up()),
        of("/auth/sign-in", json!({"email": "maren@club.example", "password": "not the one"})),
        of(
            "/bows",
            json!({"name": "Blue bow", "division": "recurve", "bow_length_in": 66,
                "draw_weight_lbf": 30}),
        ),
        of("/parts", json!({"kind": "string", "name": "Spare"})),
        of(
            "/members",
            json!({"name": "Odo Fenwright", "email": "odo@club.example", "role": "archer"}),
        ),
        of("/squads", json!({"name": "Thursdays"})),
        of(
            "/events",
            json!({"name": "Invented Cup", "starts_on": "2027-06-12", "ends_on": "2027-06-13",
                "priority": "major", "arrows_expected": 144}),
        ),
        of(
            "/me/password",
            json!({"current_password": "not the one", "new_password": "long enough"}),
        ),
        of(
            "/rules",
            json!({"part_kind": "cable", "task": "wax", "shots": {"plan": 800, "notice": 100}}),
        ),
        of("/fittings", json!({"part_id": kit.string, "bow_id": kit.bow, "at": at})),
        of("/shot-logs", log.clone()),
        of("/shot-logs/batch", json!({"mode": "atomic", "entries": [log]})),
        of("/upkeep", json!({"part_id": kit.string, "task": "waxed", "at": at})),
        of("/incidents", json!({"bow_id": kit.bow, "kind": "dry_fire", "at": at})),
        (
            format!("/bows/{}/string-change", kit.bow),
            json!({"at": at, "new_part": {"name": "Red one"}, "servings": [{"name": "Its serving"}],
                "nocking_point": {"measured_mm": 3}, "setup": {"brace_height_mm": 222.5},
                "old": {"end": "by_policy", "reason": "limit reached"}}),
        ),
        (
            format!("/bows/{}/clearance", kit.bow),
            json!({"at": at, "reason": "limbs and tips sound", "part_ids": [kit.string]}),
        ),
        (
            format!("/parts/{}/retirement", kit.string),
            json!({"at": at, "end": "worn", "reason": "fuzzy"}),
        ),
        (format!("/fittings/{}/removal", kit.string_fitting), json!({"at": at})),
    ]
}

/// A second setting up, of a club that is there already.
fn set_up() -> Value {
    json!({
        "setup_code": crate::support::SETUP_CODE,
        "club": {"name": "Another club", "time_zone": "Europe/Lisbon"},
        "owner": {"name": "Odo Fenwright", "email": "odo@club.example", "password": "long enough"},
    })
}

/// A body with one member set to something else; the member is named by its JSON pointer.
fn with(body: &Value, pointer: &str, value: Value) -> Value {
    let mut body = body.clone();
    let (parent, name) = pointer.rsplit_once('/').unwrap();
    match body.pointer_mut(parent).unwrap() {
        Value::Array(list) => list[name.parse::<usize>().unwrap()] = value,
        parent => parent[name] = value,
    }
    body
}

/// What is wrong with a field.
struct Fault {
    path: &'static str,
    pointer: &'static str,
    value: Value,
    code: &'static str,
}

fn fault(path: &'static str, pointer: &'static str, value: Value, code: &'static str) -> Fault {
    Fault { path, pointer, value, code }
}

/// Sends each operation with one faulty field. `path` is the operation's last word.
fn check_faults(by: &Person, kit: &Kit, faults: &[Fault]) {
    let operations = operations(kit);
    for fault in faults {
        let (path, body) = operations.iter().find(|(path, _)| path.ends_with(fault.path)).unwrap();
        let body = with(body, fault.pointer, fault.value.clone());
        by.post(path, &body).refuses(422, fault.pointer, fault.code);
    }
}
