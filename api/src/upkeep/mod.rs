//! Work done on parts.

mod body;
mod list;
mod record;
mod take_back;

pub(crate) use body::WorkBody;
pub(crate) use list::list_upkeep;
pub(crate) use record::record_upkeep;
pub(crate) use take_back::{get_upkeep, remove_upkeep};
