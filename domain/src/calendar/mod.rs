//! Calendars that other programs show: which days an event or a piece of work stands on. Knows nothing
//! of who may read one, or by which mail or address it travels.

mod work;

pub use work::{FURTHEST_DAYS, MOST_WINDOW_DAYS, Work, due_window};
