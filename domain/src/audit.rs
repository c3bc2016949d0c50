//! Changes on record: who changed what, when, from what to what. Knows nothing of how a record is
//! written down; what it was before and after is a text to keep.

use jiff::Timestamp;
use uuid::Uuid;

use crate::{
    ids::{BowId, ChangeId, MemberId},
    words::words,
};

words! {
    /// What a change was of.
    pub enum Subject {
        /// The club's settings.
        Club = "club",
        /// A person.
        Member = "member",
        /// A squad.
        Squad = "squad",
        /// A script's token.
        Token = "token",
        /// A calendar that somebody subscribed to.
        Feed = "feed",
        /// A bow.
        Bow = "bow",
        /// A part.
        Part = "part",
        /// A part's stay on a host.
        Fitting = "fitting",
        /// A log of shots.
        ShotLog = "shot_log",
        /// Work on a part.
        Upkeep = "upkeep",
        /// Something that happened to a bow.
        Incident = "incident",
        /// A rule of the book.
        Rule = "rule",
        /// A tournament.
        Event = "event",
        /// What somebody was reminded of.
        Reminder = "reminder",
    }
}

/// One change. Changes are added, and never changed themselves.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// Which change.
    pub id: ChangeId,
    /// When it was made.
    pub at: Timestamp,
    /// By whom; none is the program itself, or whoever runs it.
    pub by: Option<MemberId>,
    /// How the operation is called by which it was made.
    pub operation: String,
    /// What kind of thing was changed.
    pub subject: Subject,
    /// Which one.
    pub subject_id: Uuid,
    /// The bow that it was about, or that the part was under.
    pub bow: Option<BowId>,
    /// What was on record before; none if it was new.
    pub before: Option<String>,
    /// What was on record afterwards; none if it was gone.
    pub after: Option<String>,
}
