//! Time: jobs, the schedule, and mail.
//!
//! A worker looks once a minute for what came due, writes down who is to be told, and sends what
//! is to be sent by now. It meets the API in the store and nowhere else; it decides nothing about
//! bows, and knows nothing of HTTP.

mod bench;
mod content;
mod going;
pub mod jobs;
pub mod mail;
mod raise;
mod recipients;
pub mod schedule;
mod silence;
mod worker;

pub use worker::{Done, Sending, Worker};
