//! Squads: archers under one or more coaches.

mod add;
mod body;
mod change;
mod read;
mod remove;

pub(crate) use add::add_squad;
pub(crate) use change::change_squad;
pub(crate) use read::{get_squad, list_squads};
pub(crate) use remove::remove_squad;
