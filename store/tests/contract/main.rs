//! What the store promises, checked on both databases by one suite. It goes in by the front door
//! only: no query of its own, except to look at the schema and to plant what cannot come about.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test that cannot go on panics"
)]

mod invented;
mod season;
mod support;

mod answers;
mod any_order;
mod audit;
mod bow_stops;
mod corrections;
mod credentials;
mod events;
mod feeds;
mod incidents;
mod isolation;
mod isolation_answers;
mod isolation_credentials;
mod isolation_events;
#[cfg(test)]
mod isolation_mail;
mod isolation_people;
mod isolation_record;
mod isolation_stops;
mod late_reminder;
mod ledger;
mod migrations;
mod outbox;
mod pace;
mod people;
mod put_right;
mod reminders;
mod round_trips;
mod rules;
mod stopped_mail;
mod stops;
mod string_change;
mod tally;
mod timeline;
mod told;
mod transactions;
mod under_bows;
