//! A calendar that somebody subscribed to. What its address shows is not on record, only what it is known
//! by.

use jiff::Timestamp;

use crate::{
    ids::{FeedId, MemberId},
    text::Name,
    words::words,
};

words! {
    /// What stands in a calendar.
    pub enum FeedScope {
        /// The events that its owner goes to, and the work on the bows that they look after.
        Mine = "mine",
        /// The same of everybody within their reach.
        Squad = "squad",
    }
}

/// The most calendars that one member has at a time: enough for every device of a household.
pub const MOST_FEEDS: usize = 20;

/// A calendar that somebody subscribed to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Feed {
    /// Which one.
    pub id: FeedId,
    /// Whose.
    pub member: MemberId,
    /// What it is called.
    pub name: Name,
    /// What stands in it.
    pub scope: FeedScope,
    /// Since when.
    pub created_at: Timestamp,
    /// When it was revoked, if it was.
    pub revoked_at: Option<Timestamp>,
}
