//! End-to-end tests through the real program, and the checks on the house itself.
#![cfg(test)]

mod any_order;
mod bad_input;
mod club;
mod corrections;
mod due;
mod killed_worker;
mod mail_truth;
mod me;
mod paging;
mod path;
mod people;
mod program;
mod readme;
mod reckon;
mod reserving;
mod shot_logs;
mod squads;
mod support;
mod tidy;
