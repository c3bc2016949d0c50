//! Incidents: what happened to bows.

mod body;
mod list;
mod record;

pub(crate) use list::list_incidents;
pub(crate) use record::record_incident;
