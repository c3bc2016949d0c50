//! Parts: strings, servings and whatever else wears.

mod add;
mod body;
mod read;
mod retire;

pub(crate) use add::add_part;
pub(crate) use body::{PartBody, StateBody};
pub(crate) use read::{get_part, list_parts, one};
pub(crate) use retire::retire_part;
