//! Work done on parts.

mod record;

pub(crate) use record::record_upkeep;
