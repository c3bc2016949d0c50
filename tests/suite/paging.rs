//! Lists in pages: every row once, whatever is added meanwhile, and nonsense refused.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::support::{Club, Kit, Person, on_both};

/// The lists that come in pages.
const LISTS: [&str; 7] =
    ["/bows", "/parts", "/shot-logs", "/reminders", "/members", "/squads", "/events"];

fn ids(page: &Value) -> Vec<String> {
    let rows = page["data"].as_array().unwrap();
    rows.iter().map(|row| row["id"].as_str().unwrap().to_owned()).collect()
}

/// Walks a list to its end, doing something between two pages; every id, in the order shown.
fn walk(by: &Person, list: &str, limit: u32, mut between: impl FnMut()) -> Vec<String> {
    let mut seen = Vec::new();
    let mut page = by.get(&format!("{list}?limit={limit}")).expect(200);
    loop {
        let shown = ids(&page);
        assert!(shown.len() <= usize::try_from(limit).unwrap(), "{list}: {}", shown.len());
        seen.extend(shown);
        let Some(cursor) = page["next_cursor"].as_str() else { return seen };
        between();
        page = by.get(&format!("{list}?limit={limit}&cursor={cursor}")).expect(200);
    }
}

#[test]
fn a_walk_shows_every_row_once_though_rows_are_added_meanwhile() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let before: Vec<String> = (0..7).map(|_| Kit::bow(owner, None)).collect();
        let mut added = Vec::new();
        let seen = walk(owner, "/bows", 3, || {
            // Not for ever: the walk has to end.
            if added.len() < 3 {
                added.push(Kit::bow(owner, None));
            }
        });
        assert_eq!(seen, [before, added].concat());
    });
}

#[test]
fn every_page_size_shows_the_same_rows_in_the_same_order() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let kits: Vec<Kit> = (0..3).map(|_| Kit::of(&club, owner, None)).collect();
        for shots in 400..406 {
            for kit in &kits {
                let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": shots});
                owner.post("/shot-logs", &log).expect(201);
            }
        }
        for name in ["Tobin Larkmoor", "Ilse Quillfeather", "Odo Fenwright"] {
            let archer = club.archer(name).id().0;
            let squad = json!({"name": name, "archer_member_ids": [archer]});
            owner.post("/squads", &squad).expect(201);
            let event = json!({"name": "Invented Cup", "starts_on": "2027-06-12",
                "ends_on": "2027-06-13", "priority": "minor", "arrows_expected": 72});
            owner.post("/events", &event).expect(201);
        }
        club.sweep();
        for list in LISTS {
            let whole = owner.get(list).expect(200);
            assert_eq!(whole["next_cursor"], Value::Null, "{list}");
            let whole = ids(&whole);
            assert!(whole.len() >= 3, "{list} is too short for this test: {whole:?}");
            assert_eq!(whole.iter().collect::<BTreeSet<_>>().len(), whole.len(), "{list}");
            for limit in [1, 2, 3, 200] {
                assert_eq!(walk(owner, list, limit, || {}), whole, "{list} by {limit}");
            }
        }
        let of_bow = format!("/shot-logs?bow_id={}", kits[1].bow);
        assert_eq!(owner.get(&of_bow).expect(200)["data"].as_array().unwrap().len(), 6);
    });
}

#[test]
fn a_page_has_fifty_rows_unless_asked_and_two_hundred_at_most() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let bow = Kit::bow(owner, None);
        let log = json!({"bow_id": bow, "at": "2027-03-01T08:30:00Z", "shots": 3});
        let batch = json!({"mode": "atomic", "entries": vec![log; 210]});
        owner.post("/shot-logs/batch", &batch).expect(200);
        let length = |query: &str| {
            let page = owner.get(&format!("/shot-logs{query}")).expect(200);
            (page["data"].as_array().unwrap().len(), page["next_cursor"].is_null())
        };
        assert_eq!(length(""), (50, false));
        assert_eq!(length("?limit=201"), (200, false));
        assert_eq!(length("?limit=1000000000"), (200, false));
        assert_eq!(length("?limit=9223372036854775807"), (200, false));
        assert_eq!(walk(owner, "/shot-logs", 70, || {}).len(), 210);
    });
}

#[test]
fn a_query_that_cannot_be_is_refused_by_name() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        for list in LISTS {
            for limit in ["0", "-1", "-9223372036854775808"] {
                let asked = owner.get(&format!("{list}?limit={limit}"));
                asked.refuses(422, "/limit", "out_of_range");
            }
            for limit in ["abc", "1e9", "1.5", "", "99999999999999999999"] {
                let refused = owner.get(&format!("{list}?limit={limit}"));
                assert_eq!(refused.problem(422)["errors"][0]["code"], "bad_query", "{refused}");
            }
            for cursor in ["x", "AAAA", "%00", "MDE5NTAwMDAtMDAwMC03MDAw", "..%2F..%2Fetc"] {
                let asked = owner.get(&format!("{list}?cursor={cursor}"));
                asked.refuses(422, "/cursor", "not_a_cursor");
            }
            owner.get(&format!("{list}?page=2")).refuses(422, "/page", "bad_query");
        }
        let elsewhere = "/shot-logs?bow_id=01950000-0000-7000-8000-000000000001";
        owner.get(elsewhere).problem(404);
    });
}

#[test]
fn a_forged_cursor_shows_nothing_of_another_club() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let theirs = club.neighbour();
        for _ in 0..4 {
            Kit::bow(owner, None);
            Kit::bow(&theirs, None);
        }
        let page = theirs.get("/bows?limit=1").expect(200);
        let cursor = page["next_cursor"].as_str().unwrap();
        let mine = owner.get("/bows").expect(200);
        let after = owner.get(&format!("/bows?cursor={cursor}")).expect(200);
        let mine = ids(&mine);
        assert!(ids(&after).iter().all(|id| mine.contains(id)), "{after}");
        // The first cursor there can be: sixteen zero bytes.
        let all = owner.get("/bows?cursor=AAAAAAAAAAAAAAAAAAAAAA").expect(200);
        assert_eq!(ids(&all), mine);
    });
}
