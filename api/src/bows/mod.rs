//! Bows.

mod add;
mod body;
mod change;
mod people;
mod read;
mod string_change;

pub(crate) use add::add_bow;
pub(crate) use body::BowBody;
pub(crate) use change::change_bow;
pub(crate) use read::{get_bow, list_bows};
pub(crate) use string_change::change_string;
