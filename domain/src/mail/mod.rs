//! What is said to people, and how far a mail has come. How it is said and sent is the worker's.

mod acts;
mod contents;
mod outgoing;
mod send_time;
mod since;

pub use acts::{ACT_LINK_LIFETIME, Act, ActLink, QuietLink, SNOOZE_DAYS, done_by_link};
pub use contents::{
    BenchJob, BenchList, ChangeWindow, Digest, DigestLine, EventNotice, EventWork, GoingBow,
    LinkNotice, MovedNotice, QuietedNotice, SilenceNotice, StopNotice, StoppedPart,
};
pub use outgoing::{
    GIVE_UP_AFTER, Mail, MailKind, MailState, dated_key, digest_key, event_key, link_key,
    moved_key, quieted_key, retry_after_min, stop_key, unreachable_after_min,
};
pub use send_time::next_send;
pub use since::{Change, Since, Told, ToldBow, ToldWork, misleads};
