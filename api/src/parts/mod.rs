//! Parts: strings, servings and whatever else wears.

mod add;
mod body;
mod explain;
mod on_record;
mod read;
mod retire;

pub(crate) use add::{PartDetails, add_part};
pub(crate) use body::{PartBody, StateBody};
pub(crate) use explain::explain_part;
pub(crate) use read::{get_part, list_parts, one, states};
pub(crate) use retire::{ends, retire_part};
