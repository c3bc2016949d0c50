//! Who is signed in, and what they change of themselves.

mod change;
mod mail;
mod password;
mod read;

pub(crate) use change::change_me;
pub(crate) use mail::stop_mail;
pub(crate) use password::change_password;
pub(crate) use read::get_me;
