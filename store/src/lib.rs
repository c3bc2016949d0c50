//! The only crate that knows SQL: club records in SQLite or PostgreSQL behind one door.
//!
//! A caller opens a [`Store`], then runs closures over it: [`Store::read`] gives a snapshot that
//! cannot write, [`Store::write`] one transaction that is kept whole or not at all. Inside, each
//! family of rows has a module of plain functions over domain types; rows are private to it. No
//! diesel type leaves this crate, and no HTTP status or schedule enters it.

mod bow_days;
mod conn;
mod dialect;
mod error;
mod ids;
mod migrate;
mod paging;
mod schema;
mod seen;
mod sql_types;
mod store;
mod writer;

pub mod access;
pub mod account;
pub mod answers;
pub mod audit;
pub mod bow_clearances;
pub mod bow_stops;
pub mod bows;
pub mod clubs;
pub mod disowned_bows;
pub mod doctor;
pub mod due;
pub mod events;
pub mod feeds;
pub mod fittings;
pub mod hanging;
pub mod incidents;
pub mod ledger;
pub mod links;
pub mod mail_links;
pub mod mails;
pub mod members;
pub mod outbox;
pub mod pace;
pub mod parts;
pub mod reminders;
pub mod requests;
pub mod rules;
pub mod script_tokens;
pub mod seals;
pub mod sign_ins;
pub mod squads;
pub mod stopped_mail;
pub mod stops;
pub mod string_change;
pub mod tally;
#[cfg(feature = "testing")]
pub mod testing;
pub mod threads;
pub mod timeline;
pub mod told;
pub mod upkeep;
pub mod wear;

pub use conn::{DatabaseUrl, DatabaseUrlError};
pub use error::StoreError;
pub use ids::fresh_id;
pub use migrate::MigrateError;
pub use paging::Page;
pub use store::{OpenError, Read, Store, Tx};
