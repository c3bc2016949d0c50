//! Everything that happened to a part or a bow, oldest first: put together here from what is on record.
//! It reads no record itself, and names nobody but the bows and parts it is told the names of.

mod assembly;
mod wording;

use std::collections::BTreeMap;

use jiff::{Timestamp, civil::Date};

pub use assembly::{BowHistory, Logged, PartHistory, of_bow, of_part};

use crate::{
    clearances::BowClearance,
    fittings::Fitting,
    ids::{BowId, PartId},
    incidents::Incident,
    parts::{PartKind, Retirement},
    rules::Stop,
    text::Name,
    upkeep::{Upkeep, UpkeepTask},
};

/// One entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// When.
    pub at: Timestamp,
    /// On which date of the club.
    pub on: Date,
    /// What happened.
    pub what: What,
}

/// What happened.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// The part was made, some time on that day.
    Made,
    /// The part was put on record with shots from before; from here on its logs count.
    BroughtIn {
        /// How many.
        shots: u32,
    },
    /// A part was taken off.
    TakenOff(Fitting),
    /// A part was fitted.
    Fitted(Fitting),
    /// What was shot on a day with a bow; the moment is that of the day's last log.
    Shots(DayShots),
    /// Something happened to a bow.
    Happened(Incident),
    /// Work was done on the part; an inspection is work too.
    Worked(Upkeep),
    /// The bow was inspected as a whole and cleared.
    Cleared(BowClearance),
    /// From here on something forbade shooting it.
    Stopped(Stop),
    /// What forbade shooting it was lifted by an inspection.
    Lifted(Vec<Stop>),
    /// The part's life ended.
    Retired(Retirement),
}

/// What was shot on a day with a bow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DayShots {
    /// With which bow.
    pub bow: BowId,
    /// How many shots.
    pub shots: i64,
    /// In how many logs.
    pub logs: u32,
    /// All shots by the end of that day: of the part, or of the bow since its first log.
    pub by_then: i64,
}

impl What {
    /// How the kind is called on the wire.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Made => "made",
            Self::BroughtIn { .. } => "brought_in",
            Self::TakenOff(_) => "taken_off",
            Self::Fitted(_) => "fitted",
            Self::Shots(_) => "shots",
            Self::Happened(_) => "incident",
            Self::Worked(Upkeep { task: UpkeepTask::Inspected, .. }) => "inspection",
            Self::Worked(_) => "upkeep",
            Self::Cleared(_) => "clearance",
            Self::Stopped(_) => "stopped",
            Self::Lifted(_) => "lifted",
            Self::Retired(_) => "retired",
        }
    }

    /// Every kind, as they follow each other at one moment: a part comes off before another goes on,
    /// and what happened comes before what it led to.
    pub const KINDS: [&'static str; 12] = [
        "made",
        "brought_in",
        "taken_off",
        "fitted",
        "shots",
        "incident",
        "upkeep",
        "inspection",
        "clearance",
        "stopped",
        "lifted",
        "retired",
    ];

    fn place(&self) -> usize {
        Self::KINDS.iter().position(|kind| *kind == self.kind()).unwrap_or(Self::KINDS.len())
    }
}

/// What the bows and parts are called that a reader may know of.
#[derive(Debug, Clone, Default)]
pub struct Names {
    /// Bows within their reach; any other is "another bow".
    pub bows: BTreeMap<BowId, Name>,
    /// Parts.
    pub parts: BTreeMap<PartId, (PartKind, Name)>,
}

#[cfg(test)]
mod tests;
