//! What is said to people, and how far a mail has come. How it is said and sent is the worker's.

mod acts;
mod contents;
mod outgoing;
mod send_time;

pub use acts::{ACT_LINK_LIFETIME, Act, ActLink, QuietLink, SNOOZE_DAYS, done_by_link};
pub use contents::{
    ChangeWindow, Digest, DigestLine, EventNotice, EventWork, GoingBow, LinkNotice, StopNotice,
    StoppedPart,
};
pub use outgoing::{
    Mail, MailKind, MailState, digest_key, event_key, link_key, retry_after_min, stop_key,
};
pub use send_time::next_send;
