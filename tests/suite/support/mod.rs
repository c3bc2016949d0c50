//! What the end-to-end tests stand on: a club over real HTTP, the program itself, a mail server.
//!
//! Nothing here knows what a feature should answer; the tests say that.

mod calendars;
mod certificate;
mod club;
mod databases;
mod everything;
mod http;
mod kit;
mod lines;
mod links;
mod people;
mod program;
mod scratch;
mod season;
mod set_clock;
mod smtp_server;
mod told;
mod transcript;

pub(crate) use calendars::{html_problems, read_calendars};
pub(crate) use certificate::Certificate;
pub(crate) use club::{Club, SETUP_CODE, key, seals};
pub(crate) use databases::{name_of, on_both};
pub(crate) use everything::{everything, unchanged};
pub(crate) use http::Answer;
pub(crate) use kit::Kit;
pub(crate) use lines::until;
pub(crate) use links::{Browser, act_link, act_link_after, links_in};
pub(crate) use people::{PASSWORD, Person};
pub(crate) use program::{FOR_WORKERS, Finished, Program};
pub(crate) use scratch::Scratch;
pub(crate) use smtp_server::{SmtpServer, python, read_mails, tool};
pub(crate) use told::{DAY, Neglected, Told};
pub(crate) use transcript::Transcript;
