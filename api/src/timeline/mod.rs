//! What happened to a part or a bow, oldest first.

mod body;
mod read;

pub(crate) use read::{get_bow_timeline, get_part_timeline};
