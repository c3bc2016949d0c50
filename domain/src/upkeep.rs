//! Work done on a part.

use jiff::Timestamp;

use crate::{
    ids::{MemberId, PartId, UpkeepId},
    text::Note,
    words::words,
};

words! {
    /// A kind of work.
    pub enum UpkeepTask {
        /// Wax rubbed into the strands.
        Waxed = "waxed",
        /// Looked over.
        Inspected = "inspected",
        /// The serving cut off and a new one wound in its place.
        ReServed = "re_served",
        /// The nocking point measured and set.
        NockingPointSet = "nocking_point_set",
        /// The brace height measured and set.
        BraceHeightSet = "brace_height_set",
        /// Swapped for another part.
        Replaced = "replaced",
        /// Anything else.
        Other = "other",
    }
}

impl UpkeepTask {
    /// How the work is called after "since last".
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Waxed => "waxed",
            Self::Inspected => "inspected",
            Self::ReServed => "re-served",
            Self::NockingPointSet => "set",
            Self::BraceHeightSet => "braced",
            Self::Replaced => "replaced",
            Self::Other => "worked on",
        }
    }
}

/// A piece of work done on a part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Upkeep {
    /// Which piece of work.
    pub id: UpkeepId,
    /// On what.
    pub part_id: PartId,
    /// What was done.
    pub task: UpkeepTask,
    /// When.
    pub at: Timestamp,
    /// Anything worth knowing.
    pub note: Note,
    /// Who entered it.
    pub entered_by: MemberId,
    /// When it reached us.
    pub received_at: Timestamp,
}
