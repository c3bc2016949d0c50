//! Calendars that other programs show: which days an event or a piece of work stands on, and the text of
//! RFC 5545 for them. Knows nothing of who may read one, or by which mail or address it travels.

mod entries;
mod feed;
mod icalendar;
mod lines;
mod work;

pub use entries::{BeforeEvent, DueWork, Occasion, Reckoned, StoppedBow, initials};
pub use feed::{Feed, FeedScope, MOST_FEEDS};
pub use icalendar::{Calendar, Entry, Host, Method, Organiser, State};
pub use work::{FURTHEST_DAYS, MOST_WINDOW_DAYS, Work, due_window};
