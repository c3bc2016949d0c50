//! What the end-to-end tests stand on: a club over real HTTP, the program itself, a mail server.
//!
//! Nothing here knows what a feature should answer; the tests say that.

mod calendars;
mod club;
mod databases;
mod http;
mod kit;
mod lines;
mod people;
mod program;
mod scratch;
mod season;
mod set_clock;
mod smtp_server;
mod transcript;

pub(crate) use calendars::{html_problems, read_calendars};
pub(crate) use club::{Club, SETUP_CODE, key, seals};
pub(crate) use databases::{name_of, on_both};
pub(crate) use http::Answer;
pub(crate) use kit::Kit;
pub(crate) use lines::until;
pub(crate) use people::{PASSWORD, Person};
pub(crate) use program::{Finished, Program};
pub(crate) use scratch::Scratch;
pub(crate) use smtp_server::{SmtpServer, python, read_mails, tool};
pub(crate) use transcript::Transcript;
