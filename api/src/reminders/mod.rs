//! What the club's members were reminded of, and what they answer.

mod answer;
mod body;
mod disown;
mod done;
mod list;
mod look;
mod snooze;

pub(crate) use answer::{Given, give};
pub(crate) use body::CarriedBy;
pub(crate) use disown::disown_bow;
pub(crate) use done::finish_reminder;
pub(crate) use list::list_reminders;
pub(crate) use look::{Open, Standing, look};
pub(crate) use snooze::{put_off, snooze_reminder};
