//! All that a database holds, as lines of text: every row of every table. Equal before and after means that
//! nothing at all was written.

use store::{DatabaseUrl, testing::Fresh};

/// Every row, with its table before it.
pub(crate) fn everything(database: &Fresh) -> Vec<String> {
    tables(database).iter().flat_map(|table| rows(database, table)).collect()
}

fn tables(database: &Fresh) -> Vec<String> {
    let found = database.texts(match database.url {
        DatabaseUrl::Sqlite(_) => {
            "SELECT name AS text FROM sqlite_master WHERE type = 'table' ORDER BY text"
        }
        DatabaseUrl::Postgres(_) => {
            "SELECT CAST(table_name AS TEXT) AS text FROM information_schema.tables \
             WHERE table_schema = 'public' ORDER BY text"
        }
    });
    assert!(found.len() > 25, "{found:?}");
    found
}

fn rows(database: &Fresh, table: &str) -> Vec<String> {
    let row = match database.url {
        DatabaseUrl::Sqlite(_) => {
            let columns = format!(
                "SELECT 'quote(' || name || ')' AS text FROM pragma_table_info('{table}') ORDER BY cid"
            );
            database.texts(&columns).join(" || ',' || ")
        }
        DatabaseUrl::Postgres(_) => "CAST(whole AS TEXT)".to_owned(),
    };
    database
        .texts(&format!("SELECT '{table}: ' || {row} AS text FROM {table} AS whole ORDER BY text"))
}

/// Checks that a database holds what it did before, and names what it does not.
#[track_caller]
pub(crate) fn unchanged(database: &Fresh, before: &[String], by: &str) {
    let after = everything(database);
    let gone: Vec<_> = before.iter().filter(|row| !after.contains(row)).collect();
    let new: Vec<_> = after.iter().filter(|row| !before.contains(row)).collect();
    assert!(gone.is_empty() && new.is_empty(), "{by} changed {gone:#?} to {new:#?}");
    assert_eq!(before.len(), after.len(), "{by}");
}
