//! From what is to be said to a mail that a relay has taken.
//!
//! Three steps, each usable by itself: [`digest::render`] writes a [`Letter`], [`message::build`]
//! puts it into a MIME message, and [`Transport::send`] hands that over and tells how it went.
//! Nothing here knows the database or the outbox: which mail is sent when, and what becomes of
//! one that was not taken, is for the caller to decide.

mod advice;
pub mod bench;
pub mod calendar;
mod days;
pub mod digest;
pub mod event;
mod folder;
pub mod invitation;
mod letter;
mod link;
mod links;
pub mod message;
pub mod moved;
pub mod nudge;
mod probe;
pub mod quieted;
mod quote;
mod relay;
mod relay_url;
pub mod reset;
pub mod samples;
pub mod stop;
mod transport;
mod verdict;
mod wrap;

pub use letter::{Letter, RenderError};
pub use lettre::Message;
pub use links::{Links, SealAct};
pub use probe::{Checked, Fault};
pub use relay::AT_ONCE;
pub use relay_url::TransportError;
pub use transport::{Partly, Receipt, SendError, TALK_LIMIT, Transport};
pub use verdict::Refusal;
