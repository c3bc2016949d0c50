//! When work on a bow has to be done. Knows shots, weeks and sessions; nothing of storage, mail or
//! today's date.
pub mod event_window;
