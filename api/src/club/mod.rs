//! The club itself, and its settings.

mod body;
mod change;

pub(crate) use body::get_club;
pub(crate) use change::change_club;
