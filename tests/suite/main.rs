//! End-to-end tests through the real program, and the checks on the house itself.
#![cfg(test)]

mod any_order;
mod bad_input;
mod board;
mod due;
mod killed_worker;
mod mail_truth;
mod paging;
mod path;
mod program;
mod readme;
mod reckon;
mod reserving;
mod rules;
mod shot_logs;
mod support;
mod tidy;
