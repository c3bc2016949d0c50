//! The mails of a club as whoever looks after it sees them: what became of each, and nothing of what it
//! says.

mod list;

pub(crate) use list::list_mails;
