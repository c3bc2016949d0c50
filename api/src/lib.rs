//! HTTP: parse, authorise, call, answer. Every route, body and status is here and nowhere else.
//!
//! A handler parses its body into domain values, runs one closure over the store, and turns what
//! comes back into an answer. It decides nothing about bows: that is the domain's. It knows no SQL,
//! and nothing of mail or schedules; what has to be told to somebody goes through the store.

mod answer;
mod audit;
mod auth;
mod board;
mod body;
mod bows;
mod checklists;
mod club;
mod days;
mod due;
mod error;
mod events;
mod examples;
mod fallback;
mod feeds;
mod fields;
mod fittings;
mod fresh;
mod health;
mod incidents;
mod mails;
mod me;
mod members;
mod metrics;
mod object;
mod once;
mod openapi;
mod pages;
mod paging;
mod parts;
mod patch;
mod quiet_hours;
mod records;
mod reminders;
mod requests;
mod routes;
mod rules;
mod server;
mod shot_logs;
mod squads;
pub mod tables;
mod timeline;
mod tokens;
mod upkeep;
mod versions;
mod which_bows;
mod within_reach;
mod wording;

pub use auth::{Keys, SigningKey, hash_password};
pub use openapi::openapi_json;
pub use server::{Api, server};
