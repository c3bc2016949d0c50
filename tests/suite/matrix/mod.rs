//! The isolation matrix: every operation of the API's own document, asked by every kind of caller.
//!
//! A row says how an operation is asked for with rows of our club, and how each caller is answered. An
//! operation without a row fails, and so does a row without an operation. What a caller may not do
//! changes nothing, and nobody of another club reads an id or a name of ours. What a caller may do and
//! does leaves one record of the change, unless the operation is listed as one that leaves none.
//!
//! The requirement is that of the OWASP API Security Top 10 (2023), API1 and API5, from memory: object
//! and function level authorization, checked for every operation and role.

mod asking;
mod callers;
mod ours;
mod recorded;
mod rows;
mod run;
mod scene;

use std::time::Instant;

use crate::support::{name_of, on_both};

#[test]
fn every_operation_answers_every_caller_as_its_row_says_and_nothing_leaks() {
    on_both(|database| {
        let began = Instant::now();
        let tally = run::on(database);
        println!(
            "{}: {} operations × {} callers ({} of our club, {} of another, {} left out): {} requests, \
             leaks {}, in {} s",
            name_of(database),
            tally.operations,
            tally.callers + tally.strangers,
            tally.callers,
            tally.strangers,
            tally.left_out,
            tally.requests,
            tally.leaks,
            began.elapsed().as_secs()
        );
    });
}
