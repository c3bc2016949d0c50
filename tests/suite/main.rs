//! End-to-end tests, and the checks on the house itself.

mod tidy;
