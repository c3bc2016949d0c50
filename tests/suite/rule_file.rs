//! The command line on a club's records: rule books as files, and the look at the ledger's counters.

use std::{fs, path::Path};

use serde_json::json;
use store::testing::Fresh;

use crate::{
    program::{SECRET, setting},
    support::{Club, Finished, Kit, Program, Scratch, on_both},
};

/// A club on a server of its own, and a folder in which the program is run on its database.
struct Bench {
    club: Club,
    folder: Scratch,
    url: String,
}

impl Bench {
    fn in_database(database: &Fresh) -> Self {
        Self { club: Club::start(database), folder: Scratch::new(), url: setting(database) }
    }

    fn tautline(&self, arguments: &[&str]) -> Finished {
        let settings = [("TAUTLINE_DATABASE_URL", self.url.as_str()), ("TAUTLINE_SECRET", SECRET)];
        Program::run(self.folder.path(), &settings, arguments)
    }

    /// What it prints when it does what it is asked to.
    #[track_caller]
    fn prints(&self, arguments: &[&str]) -> String {
        let finished = self.tautline(arguments);
        assert_eq!(finished.code, Some(0), "{finished:?}");
        finished.stdout
    }

    fn write(&self, name: &str, text: &str) {
        fs::write(self.folder.path().join(name), text).unwrap();
    }
}

fn compound_book() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("rule-books/compound.toml");
    fs::read_to_string(path).unwrap()
}

#[test]
fn a_rule_book_goes_from_club_to_club_as_a_file() {
    on_both(|database| {
        let bench = Bench::in_database(database);
        let own = bench.prints(&["export", "rules"]);
        bench.write("own.toml", &own);
        let again = bench.prints(&["import", "rules", "own.toml", "--write"]);
        assert!(again.contains("0 of 8 rules were set"), "{again}");
        bench.write("compound.toml", &compound_book());
        let dry = bench.prints(&["import", "rules", "compound.toml"]);
        assert!(dry.contains("8 of 8 rules would be set"), "{dry}");
        assert_eq!(bench.prints(&["export", "rules"]), own);
        let written = bench.prints(&["import", "rules", "compound.toml", "--write"]);
        assert!(written.contains("8 of 8 rules were set, signed by Maren Ilves"), "{written}");
        let record = bench.club.owner().get("/audit?operation=import_rules").expect(200);
        let record = record["data"].as_array().unwrap();
        assert_eq!(record.len(), 8);
        assert!(record.iter().all(|one| one["by_member_id"].is_null() && one["before"].is_null()));
        let both = bench.prints(&["export", "rules", "--out", "both.toml"]);
        assert_eq!(both, "");
        let both = fs::read_to_string(bench.folder.path().join("both.toml")).unwrap();
        assert_eq!(both.matches("[[rule]]").count(), 16);
        // What was exported says the same when it comes back.
        let same = bench.prints(&["import", "rules", "both.toml"]);
        assert!(same.contains("0 of 16 rules would be set"), "{same}");
        let scarcer = both.replace("plan = 500", "plan = 450");
        bench.write("scarcer.toml", &scarcer);
        let changed = bench.prints(&["import", "rules", "scarcer.toml"]);
        assert!(changed.contains("2 of 16 rules would be set"), "{changed}");
    });
}

/// A change of the file, and what has to be named.
const FAULTS: &[(&str, &str, &[&str])] = &[
    ("plan = 500,", "plan = 500, plam = 3,", &["line 11", "plam"]),
    ("task = \"wax\"", "task = \"polish\"", &["rule 1 (line 7)", "task: polish"]),
    ("\"compound\"", "\"longbow\"", &["rule 2 (line 17)", "scope: bows of that division"]),
    ("\"dry_strands\"", "\"cam_damage\"", &["rule 1 (line 7)", "finding.any_of"]),
    ("plan = 180", "plan = 0", &["rule 7 (line 59)", "days.plan: must be between 1 and 3650"]),
    ("division = \"compound\"", "squad = \"Nobody\"", &["scope.squad", "Nobody"]),
    ("task = \"inspect\"\nscope", "task = \"wax\"\nscope", &["rule 2", "same work and scope"]),
    ("retire = 30000", "retire = 60000", &["shots.retire", "override_reason"]),
    ("[[rule]]", "[[rule", &["line 7"]),
];

#[test]
fn a_file_with_a_fault_changes_nothing_and_names_the_place() {
    on_both(|database| {
        let bench = Bench::in_database(database);
        let before = bench.prints(&["export", "rules"]);
        for (from, to, named) in FAULTS {
            let book = compound_book();
            assert!(book.contains(from), "{from}");
            bench.write("faulty.toml", &book.replace(from, to));
            bench.tautline(&["import", "rules", "faulty.toml", "--write"]).refuses(named);
            assert_eq!(bench.prints(&["export", "rules"]), before, "{to}");
        }
        bench.tautline(&["import", "rules", "nowhere.toml"]).refuses(&["nowhere.toml"]);
    });
}

#[test]
fn the_doctor_finds_a_planted_counter_names_it_and_mends_it() {
    on_both(|database| {
        let bench = Bench::in_database(database);
        let owner = bench.club.owner();
        let kit = Kit::of(&bench.club, owner, None);
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 72});
        owner.post("/shot-logs", &log).expect(201);
        let sound = bench.prints(&["doctor", "ledger"]);
        assert!(sound.contains("counters equal their sums"), "{sound}");
        let planted = [
            "UPDATE wear SET shots = 777777 WHERE clock = 'waxed' AND part_id IN (
                SELECT id FROM parts ORDER BY id LIMIT 1)",
            "UPDATE bow_days SET shots = shots + 1 WHERE on_date = '2027-03-01'",
            "DELETE FROM wear WHERE clock = 'life' AND part_id IN (
                SELECT id FROM parts ORDER BY id DESC LIMIT 1)",
        ];
        for sql in planted {
            database.execute(sql);
        }
        let found = bench.tautline(&["doctor", "ledger"]);
        found.refuses(&["counters differ from their sums"]);
        for named in
            ["clock waxed says 777777 shots", "bow_days of bow", "on 2027-03-01", "says nothing"]
        {
            assert!(found.stdout.contains(named), "{named:?} is not in {found:?}");
        }
        let mended = bench.prints(&["doctor", "ledger", "--mend"]);
        let last = mended.lines().last().unwrap();
        let (right, all) = last.rsplit_once(" of ").unwrap();
        let right = right.rsplit(' ').next().unwrap();
        assert!(all.starts_with(right), "{last}");
    });
}
