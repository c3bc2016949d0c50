//! End-to-end tests through the real program, and the checks on the house itself.
#![cfg(test)]

mod reckon;
mod tidy;
