//! Bows.

mod add;
mod body;
mod read;

pub(crate) use add::add_bow;
pub(crate) use body::BowBody;
pub(crate) use read::{get_bow, list_bows};
