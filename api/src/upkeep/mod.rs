//! Work done on parts.

mod body;
mod list;
mod record;

pub(crate) use list::list_upkeep;
pub(crate) use record::record_upkeep;
