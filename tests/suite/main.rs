//! End-to-end tests through the real program, and the checks on the house itself.
#![cfg(test)]

mod any_order;
mod auth;
mod bad_input;
mod board;
mod bows_and_parts;
mod club;
mod corrections;
mod csv;
mod due;
mod events;
mod fuzz;
mod killed_worker;
mod mail_truth;
mod matrix;
mod me;
mod notices;
mod paging;
mod path;
mod people;
mod program;
mod readme;
mod reckon;
mod reserving;
mod rules;
mod safety;
mod shot_logs;
mod squads;
mod string_change;
mod support;
mod tidy;
