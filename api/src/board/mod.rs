//! The board: every bow within reach, and what it needs.

mod body;
mod read;

pub(crate) use read::get_board;
