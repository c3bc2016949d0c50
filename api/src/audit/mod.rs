//! Who changed what, when, from what to what: how each operation puts it on record, and who reads it.

mod body;
mod changed;
mod differences;
mod list;

pub(crate) use changed::Changed;
pub(crate) use list::list_changes;
