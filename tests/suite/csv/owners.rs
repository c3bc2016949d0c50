//! Who brings in the tables that are for owners. The matrix has one row for each operation, and its row of
//! `import_table` is of the ledger; every other table is asked for here by each kind of caller.

use serde_json::json;

use super::{TABLES, export, rows, send};
use crate::support::{Club, Kit, on_both};

const BOWS: &str = "name,division,bow_length_in,draw_weight_lbf\nHall bow,recurve,68,24\n";

#[test]
fn only_owners_bring_in_more_than_logs_and_each_into_their_own_club() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let (archer, coach) = (club.archer("Tobin Larkmoor"), club.coach("Ferin Larkmoor"));
        let token = |scope| {
            let body = json!({"name": "Script", "scope": scope});
            let made = owner.post("/tokens", &body).expect(201);
            club.bearing(made["token"].as_str().unwrap())
        };
        let (logs, reads) = (token("log"), token("read"));
        let before = TABLES.map(|table| export(owner, table));
        for table in TABLES.into_iter().filter(|table| *table != "shot_logs") {
            let file = if table == "bows" { BOWS } else { "" };
            for dry_run in [true, false] {
                let query = format!("table={table}&dry_run={dry_run}");
                for who in [&archer, &coach, &logs, &reads] {
                    send(who, &query, file).problem(403);
                }
                send(&club.anonymous(), &query, file).problem(401);
            }
        }
        assert_eq!(TABLES.map(|table| export(owner, table)), before);

        let neighbour = club.neighbour();
        let query = "table=bows&dry_run=false";
        assert_eq!(rows(&send(&neighbour, query, BOWS).expect(200)), [1, 1, 0, 0]);
        assert!(export(&neighbour, "bows").contains(",Hall bow,"));
        assert_eq!(TABLES.map(|table| export(owner, table)), before);
        // The same words are another bow in another club.
        assert_eq!(rows(&send(owner, query, BOWS).expect(200)), [1, 1, 0, 0]);
        assert_ne!(export(owner, "bows"), export(&neighbour, "bows"));
        assert_eq!(export(&neighbour, "bows").lines().count(), 2);

        // What is of the other club is neither found nor named.
        let kit = Kit::of(&club, owner, None);
        let stay =
            format!("part_id,bow_id,from\n{},{},2027-03-01T08:00:00Z\n", kit.string, kit.bow);
        let refused = send(&neighbour, "table=fittings&dry_run=false", stay);
        refused.refuses(422, "/lines/2/part_id", "refused");
        assert!(!refused.problem(422).to_string().contains("Grey recurve"));
    });
}
