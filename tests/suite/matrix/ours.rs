//! What is on record of our club, read past the API: its ids, and how much of everything there is.

use std::collections::BTreeSet;

use domain::ids::ClubId;
use store::{DatabaseUrl, testing::Fresh};
use uuid::Uuid;

use super::callers::MARK;
use crate::bad_input::TABLES;

/// What a change of a row shows in, where the number of rows stays the same.
const CHANGES: [(&str, &str); 30] = [
    ("clubs", "SUM(version)"),
    ("members", "SUM(version)"),
    ("members", "COUNT(left_at)"),
    ("squads", "SUM(version)"),
    ("bows", "SUM(version)"),
    ("rules", "SUM(version)"),
    ("events", "SUM(version)"),
    ("events", "COUNT(cancelled_at)"),
    ("parts", "COUNT(retired_at)"),
    ("fittings", "COUNT(to_at)"),
    ("fittings", "SUM(version)"),
    ("shot_logs", "COUNT(merged_into_id)"),
    ("shot_logs", "SUM(shots)"),
    ("shot_logs", "COUNT(CASE WHEN counts THEN 1 END)"),
    ("shot_logs", "COUNT(CASE WHEN void THEN 1 END)"),
    ("shot_logs", "SUM(seq)"),
    ("wear", "SUM(shots)"),
    ("upkeep", "COUNT(CASE WHEN clears THEN 1 END)"),
    ("logins", "COUNT(DISTINCT password_hash)"),
    ("sign_ins", "SUM(generation)"),
    ("sign_ins", "COUNT(ended_at)"),
    ("script_tokens", "COUNT(revoked_at)"),
    ("feeds", "COUNT(revoked_at)"),
    ("one_time_links", "COUNT(used_at)"),
    ("outbox", "SUM(attempt)"),
    ("outbox", "COUNT(finished_at)"),
    ("reminders", "COUNT(DISTINCT state)"),
    ("reminders", "COUNT(answered_at)"),
    ("reminders", "COUNT(snoozed_until)"),
    ("findings", "SUM(grade)"),
];

pub(super) struct Ours<'a> {
    database: &'a Fresh,
    club: ClubId,
}

impl<'a> Ours<'a> {
    pub(super) const fn of(database: &'a Fresh, club: ClubId) -> Self {
        Self { database, club }
    }

    /// The club's id as a literal of SQL.
    fn literal(&self) -> String {
        match self.database.url {
            DatabaseUrl::Sqlite(_) => format!("X'{}'", self.club.0.simple()),
            DatabaseUrl::Postgres(_) => format!("'{}'", self.club.0),
        }
    }

    /// How much there is of everything, and what has become of it. Equal before and after means that
    /// nothing was written.
    pub(super) fn on_record(&self) -> Vec<String> {
        let tables = TABLES.iter().copied().chain(["sign_ins"]);
        let counts = tables.map(|table| (table, "COUNT(*)"));
        let club = self.literal();
        let selects: Vec<String> = counts
            .chain(CHANGES)
            .map(|(table, sum)| {
                format!(
                    "SELECT '{table} {sum} ' || COALESCE(CAST({sum} AS TEXT), '') AS text \
                     FROM {table} WHERE club_id = {club}"
                )
            })
            .collect();
        self.database.texts(&format!("{} ORDER BY text", selects.join(" UNION ALL ")))
    }

    /// How many changes of ours are on record, and how many of them by one operation.
    pub(super) fn changes(&self, operation: &str) -> (usize, usize) {
        let club = self.literal();
        let of_it = format!("COUNT(CASE WHEN operation = '{operation}' THEN 1 END)");
        let counts = self.database.texts(&format!(
            "SELECT CAST(COUNT(*) AS TEXT) || ' ' || CAST({of_it} AS TEXT) AS text \
             FROM audit WHERE club_id = {club}"
        ));
        let (all, of_it) = counts[0].split_once(' ').unwrap();
        (all.parse().unwrap(), of_it.parse().unwrap())
    }

    /// Every id of a row of ours.
    pub(super) fn ids(&self) -> BTreeSet<Uuid> {
        let id = match self.database.url {
            DatabaseUrl::Sqlite(_) => "lower(hex(id))",
            DatabaseUrl::Postgres(_) => "CAST(id AS TEXT)",
        };
        let club = self.literal();
        let selects: Vec<String> = self
            .tables_with_ids()
            .iter()
            .map(|table| format!("SELECT {id} AS text FROM {table} WHERE club_id = {club}"))
            .collect();
        assert!(selects.len() > 10, "{selects:?}");
        let found = self.database.texts(&format!("{} ORDER BY text", selects.join(" UNION ALL ")));
        let mut ids: BTreeSet<Uuid> = found.iter().map(|text| text.parse().unwrap()).collect();
        ids.insert(self.club.0);
        ids
    }

    fn tables_with_ids(&self) -> Vec<String> {
        self.database.texts(match self.database.url {
            DatabaseUrl::Sqlite(_) => {
                "SELECT tables.name AS text FROM sqlite_master AS tables \
                 JOIN pragma_table_info(tables.name) AS columns ON columns.name = 'id' \
                 WHERE tables.type = 'table' ORDER BY text"
            }
            DatabaseUrl::Postgres(_) => {
                "SELECT CAST(table_name AS TEXT) AS text FROM information_schema.columns \
                 WHERE table_schema = 'public' AND column_name = 'id' ORDER BY text"
            }
        })
    }
}

/// What a text holds of ours that its reader did not say themselves.
pub(super) fn leaks(text: &str, said: &str, ids: &BTreeSet<Uuid>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for at in 0..text.len() {
        for length in [36, 32] {
            let id = text.get(at..at + length).and_then(|text| Uuid::try_parse(text).ok());
            if let Some(id) = id.filter(|id| ids.contains(id) && !said.contains(&id.to_string())) {
                found.push(id.to_string());
            }
        }
    }
    if text.to_lowercase().contains(&MARK.to_lowercase()) {
        found.push(MARK.to_owned());
    }
    found
}

#[test]
fn a_planted_leak_is_found() {
    let id: Uuid = "01950000-0000-7000-8000-0000000000ff".parse().unwrap();
    let ids = BTreeSet::from([id]);
    let found = |text: &str, said: &str| leaks(text, said, &ids).len();
    assert_eq!(found("{\"id\":\"01950000-0000-7000-8000-0000000000ff\"}", ""), 1);
    assert_eq!(found("é 01950000000070008000\u{30}000000000ff", ""), 1);
    assert_eq!(found("01950000-0000-7000-8000-0000000000fe", ""), 0);
    assert_eq!(found("/bows/01950000-0000-7000-8000-0000000000FF", "/bows/x"), 1);
    assert_eq!(found("/bows/01950000-0000-7000-8000-0000000000ff", &format!("/bows/{id}")), 0);
    assert_eq!(found("Squad QUARRELMARK", ""), 1);
}
