//! Bows.

mod add;
mod body;
mod change;
mod clear;
mod people;
mod read;
mod string_change;

pub(crate) use add::add_bow;
pub(crate) use body::{BowBody, BowNowBody, BowStopBody, missing_parts};
pub(crate) use change::change_bow;
pub(crate) use clear::clear_bow;
pub(crate) use read::{get_bow, list_bows};
pub(crate) use string_change::change_string;
