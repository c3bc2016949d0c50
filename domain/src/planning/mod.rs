//! When work on a bow has to be done. Knows shots, weeks, sessions, and the dates of an event; nothing
//! of storage or mail.
pub mod before_event;
pub mod bench;
pub mod event_window;
