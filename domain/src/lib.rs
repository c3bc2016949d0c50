//! The trade of bows and strings, and the mathematics that serves it.
//!
//! Everything here is a value or a pure function: it reads no clock, no file, no network and no
//! database, and it knows neither JSON nor SQL. What depends on the present is handed a time.

pub mod account;
pub mod audit;
pub mod bows;
pub mod calendar;
pub mod clearances;
pub mod clubs;
pub mod events;
pub mod fittings;
pub mod forecast;
pub mod ids;
pub mod incidents;
pub mod ledger;
pub mod links;
pub mod mail;
pub mod members;
pub mod membership;
pub mod parts;
pub mod planning;
pub mod quiet_hours;
pub mod reach;
pub mod reminders;
pub mod rules;
pub mod safety;
pub mod script_tokens;
pub mod squads;
pub mod string_change;
pub mod strings;
pub mod targets;
pub mod text;
pub mod time;
pub mod timeline;
pub mod trials;
pub mod units;
pub mod upkeep;
mod words;
