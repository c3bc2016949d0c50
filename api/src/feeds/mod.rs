//! Calendars to subscribe to: made, looked over and revoked by whoever signed in, and read by whoever has
//! their address.

mod body;
mod content;
mod make;
mod read;
mod revoke;
mod serve;

pub(crate) use make::make_feed;
pub(crate) use read::list_feeds;
pub(crate) use revoke::revoke_feed;
pub(crate) use serve::read_feed;
