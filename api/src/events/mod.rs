//! Events, and who goes to them with which bow.

mod add;
mod body;
mod call_off;
mod change;
mod enter;
mod entries;
mod read;

pub(crate) use add::add_event;
pub(crate) use call_off::call_off_event;
pub(crate) use change::change_event;
pub(crate) use enter::set_entries;
pub(crate) use read::{get_event, list_events};
