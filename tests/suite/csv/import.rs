//! What an import does and does not do: once, all or nothing, within reach, through the same rules.

use serde_json::{Value, json};

use super::{TABLES, export, rows, send};
use crate::support::{Club, Kit, on_both};

const HEADER: &str = "bow,at,shots\r\n";

fn log_file(rows: usize, bad: Option<usize>) -> String {
    let row = |n: usize| {
        let (day, minute) = (1 + n % 28, n / 28 % 60);
        let shots = if bad == Some(n) { 0 } else { 1 + n % 60 };
        format!("Grey recurve,2027-01-{day:02}T10:{minute:02}:00Z,{shots}\r\n")
    };
    HEADER.to_owned() + &(0..rows).map(row).collect::<String>()
}

#[test]
fn the_same_file_twice_adds_nothing_and_rows_that_say_the_same_are_each_one() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        // Twice 30 in one day are two practices.
        let file =
            "Bow;Date;Arrows\r\nGrey recurve;2027-02-28;30\r\nGrey recurve;2027-02-28;30\r\n";
        let query = "table=shot_logs&dry_run=false";
        let shown = send(owner, "table=shot_logs", file).expect(200);
        assert_eq!((rows(&shown), &shown["written"]), ([2, 2, 0, 0], &json!(false)));
        assert_eq!(Kit::shots(owner, &kit.string), json!(0));
        assert_eq!(rows(&send(owner, query, file).expect(200)), [2, 2, 0, 0]);
        assert_eq!(rows(&send(owner, query, file).expect(200)), [2, 0, 2, 0]);
        assert_eq!(Kit::shots(owner, &kit.string), json!(60));
        // Noon at the club is after it was strung.
        let columns: Vec<&Value> =
            shown["columns"].as_array().unwrap().iter().map(|one| &one["column"]).collect();
        assert_eq!(columns, ["bow", "at", "shots"]);
    });
}

#[test]
fn one_bad_row_in_five_thousand_keeps_all_of_them_out_and_is_named() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        Kit::of(&club, owner, None);
        let file = log_file(5_000, Some(4_710));
        let query = "table=shot_logs&dry_run=false";
        let problem = send(owner, query, &file).problem(422);
        assert_eq!(problem["type"], "/problems/not-imported");
        assert_eq!(problem["errors"][0]["pointer"], "/lines/4712/shots");
        assert_eq!(problem["errors"].as_array().unwrap().len(), 1);
        assert_eq!(rows(&problem["report"]), [5_000, 4_999, 0, 1]);
        assert_eq!(export(owner, "shot_logs").lines().count(), 1);

        let each = send(owner, "table=shot_logs&dry_run=false&mode=each", &file).expect(200);
        assert_eq!((rows(&each), &each["written"]), ([5_000, 4_999, 0, 1], &json!(true)));
        assert_eq!(each["problems"][0]["line"], 4_712);
        assert_eq!(export(owner, "shot_logs").lines().count(), 5_000);
        let right = log_file(5_000, None);
        assert_eq!(rows(&send(owner, query, &right).expect(200)), [5_000, 1, 4_999, 0]);
    });
}

#[test]
fn what_cannot_be_taken_comes_back_as_a_file_to_be_put_right() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        Kit::of(&club, owner, None);
        let file = "bow,at,shots\nGrey recurve,2027-02-28,30\nBlue bow,2027-02-28,0\n";
        let answer = send(owner, "table=shot_logs&problems=csv", file);
        let text = String::from_utf8(answer.body.clone()).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[0], "\u{FEFF}bow,at,shots,line,reason");
        assert!(lines[1].starts_with("Blue bow,2027-02-28,0,3,"), "{text}");
        assert!(lines[1].contains("bow: must be the name") && lines[1].contains("shots: must"));
        assert_eq!(lines.len(), 2);
        send(owner, "table=shot_logs&problems=csv&dry_run=false", file).refuses(
            422,
            "/problems",
            "only_dry_run",
        );
    });
}

#[test]
fn a_log_that_was_corrected_since_is_there_already_in_both_its_words() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        Kit::of(&club, owner, None);
        let corrected = log_file(3, None);
        let query = "table=shot_logs&dry_run=false";
        assert_eq!(rows(&send(owner, query, &corrected).expect(200)), [3, 3, 0, 0]);
        // A log that was corrected since is what it is now: both its words are on record.
        let id = owner.get("/shot-logs").expect(200)["data"][0]["id"].clone();
        let path = format!("/shot-logs/{}", id.as_str().unwrap());
        owner.patch(&path, "*", &json!({"shots": 99})).expect(200);
        assert_eq!(rows(&send(owner, query, &corrected).expect(200)), [3, 0, 3, 0]);
        let now = export(owner, "shot_logs");
        assert!(now.contains(",99,"), "{now}");
        assert_eq!(rows(&send(owner, query, &now).expect(200)), [3, 0, 3, 0]);
        // Other words under the same id are not.
        let other = now.replace(",99,", ",98,");
        let problem = send(owner, query, &other).problem(422);
        assert!(problem["errors"][0]["detail"].as_str().unwrap().contains("another log"));
    });
}

#[test]
fn an_import_reaches_as_far_as_who_sends_it() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let archer = club.archer("Tobin Larkmoor");
        let other = club.archer("Ilse Quillmoor");
        let own = Kit::of(&club, owner, Some(archer.id()));
        let theirs = Kit::of(&club, owner, Some(other.id()));
        for table in TABLES.into_iter().filter(|table| *table != "shot_logs") {
            assert_eq!(archer.get(&format!("/export?table={table}")).status, 403, "{table}");
            assert_eq!(send(&archer, &format!("table={table}"), "").status, 403, "{table}");
        }
        let query = "table=shot_logs&dry_run=false";
        let row = |bow: &str, by: &str| {
            format!("bow_id,at,shots,entered_by\n{bow},2027-03-01T08:00:00Z,30,{by}\n")
        };
        send(&archer, query, row(&theirs.bow, "")).refuses(422, "/lines/2/bow_id", "refused");
        // Nobody learns from it who is in the club, or enters something in another's name.
        for address in ["maren@club.example", "nobody@club.example"] {
            let refused = send(&archer, query, row(&own.bow, address));
            refused.refuses(422, "/lines/2/entered_by", "refused");
            let detail = refused.json()["errors"][0]["detail"].to_string();
            assert!(detail.contains("within your reach"), "{detail}");
        }
        let mine = row(&own.bow, "tobin.larkmoor@club.example");
        assert_eq!(rows(&send(&archer, query, mine).expect(200)), [1, 1, 0, 0]);
        let by_owner = json!({"bow_id": own.bow, "at": "2027-03-01T08:10:00Z", "shots": 6});
        owner.post("/shot-logs", &by_owner).expect(201);
        owner
            .post("/shot-logs", &json!({"bow_id": theirs.bow, "at": "2027-03-01", "shots": 6}))
            .expect(201);
        let seen = export(&archer, "shot_logs");
        assert_eq!(seen.lines().count(), 3, "{seen}");
        assert!(!seen.contains("maren@") && !seen.contains(&theirs.bow), "{seen}");
        assert_eq!(rows(&send(&archer, query, seen).expect(200)), [2, 0, 2, 0]);
    });
}

#[test]
fn what_the_rules_refuse_is_refused_here_too() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kit = Kit::of(&club, owner, None);
        let second = Kit::part(owner, "string");
        let bow = &kit.bow;
        for (table, file, words) in [
            (
                "fittings",
                format!("part_id,bow_id,from\n{second},{bow},2027-03-01T08:00:00Z\n"),
                "there is already a string",
            ),
            (
                "upkeep",
                format!("part_id,task,at,findings\n{second},waxed,2027-03-01,cut_strand=3\n"),
                "goes only with the task inspected",
            ),
            (
                "upkeep",
                format!("part_id,task,at\n{second},re_served,2027-03-01\n"),
                "is not done on a part of the kind",
            ),
            (
                "upkeep",
                format!("part_id,task,at,findings\n{second},inspected,2027-03-01,cam_damage=1\n"),
                "cam_damage: a part of the kind",
            ),
            (
                "members",
                "email,name,role,minor_until\nx@club.example,X,archer,2030-01-01\n".to_owned(),
                "a minor needs a guardian",
            ),
            (
                "members",
                "email,name,role\nmaren@club.example,Maren Elsewhere,owner\n".to_owned(),
                "is there already, with name",
            ),
            (
                "incidents",
                format!("bow_id,kind,at\n{bow},dry_fire,2027-03-02T10:00:00Z\n"),
                "lies in the future",
            ),
        ] {
            let problem = send(owner, &format!("table={table}&dry_run=false"), &file).problem(422);
            let detail = problem["errors"][0]["detail"].as_str().unwrap();
            assert!(detail.contains(words), "{table}: {detail}");
        }
        let twice = "email,name,role\ny@club.example,Y,archer\nY@club.example,Other,archer\n";
        send(owner, "table=members&dry_run=false", twice).problem(422);
        let wrong =
            format!("part_id,task,at,findings\n{second},inspected,2027-03-01,rest_wear=1\n");
        let wrong = send(owner, "table=upkeep&dry_run=false", wrong);
        wrong.refuses(422, "/lines/2/findings", "refused");
        let wrong = format!("part_id,task,at\n{second},re_served,2027-03-01\n");
        let wrong = send(owner, "table=upkeep&dry_run=false", wrong);
        wrong.refuses(422, "/lines/2/task", "refused");
        let stop = format!("bow_id,kind,at\n{bow},Dry fire,2027-03-01T08:30:00Z\n");
        send(owner, "table=incidents&dry_run=false", stop).expect(200);
        let string = owner.get(&format!("/parts/{}", kit.string)).expect(200);
        assert_eq!(string["condition"], "do_not_shoot");
        // Read as people write it.
        let bows = "Name;Bogenart;Bogenlänge;Zuggewicht\nErlkönig;Recurve;70 in;15,4 kg\n";
        assert_eq!(rows(&send(owner, "table=bows&dry_run=false", bows).expect(200)), [1, 1, 0, 0]);
        assert!(export(owner, "bows").contains("Erlkönig,recurve,70,33.95,"));
    });
}

#[test]
fn ten_thousand_logs_come_in_within_seconds() {
    let database = store::testing::sqlite();
    let club = Club::start(&database);
    let owner = club.owner();
    Kit::of(&club, owner, None);
    let began = std::time::Instant::now();
    let file = log_file(10_000, None);
    let report = send(owner, "table=shot_logs&dry_run=false", file).expect(200);
    assert_eq!(rows(&report), [10_000, 10_000, 0, 0]);
    let taken = began.elapsed();
    println!("10,000 logs in {} ms", taken.as_millis());
    // Alone it is a few seconds, also without optimisation; other tests run beside this one.
    assert!(taken < std::time::Duration::from_secs(30), "{taken:?}");
}
