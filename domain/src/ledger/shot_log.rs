//! One entry of the ledger.

use jiff::Timestamp;

use super::LogTime;
use crate::{
    ids::{BowId, MemberId, ShotLogId},
    text::Note,
    words::words,
};

words! {
    /// What the arrows were shot for.
    pub enum LogKind {
        /// Practice.
        Practice = "practice",
        /// A scored round outside of a competition.
        Scoring = "scoring",
        /// A competition.
        Competition = "competition",
        /// Setting the bow up.
        Tuning = "tuning",
    }
}

/// Why a number of shots was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ShotsError {
    /// None, or fewer than none.
    #[error("must be at least 1")]
    TooFew,
    /// More than anybody shoots in one go.
    #[error("must be at most 2000 in one log; write several logs for several days")]
    TooMany,
}

/// The shots of one log: 1 to 2,000.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Shots(u16);

impl Shots {
    /// The most that one log may hold.
    pub const MAX: i64 = 2_000;

    /// Takes a count.
    ///
    /// # Errors
    /// [`ShotsError`] outside 1 to 2,000.
    ///
    /// # Example
    /// ```
    /// use domain::ledger::{Shots, ShotsError};
    /// assert_eq!(Shots::new(72)?.get(), 72);
    /// assert_eq!(Shots::new(0), Err(ShotsError::TooFew));
    /// assert_eq!(Shots::new(2_001), Err(ShotsError::TooMany));
    /// # Ok::<(), ShotsError>(())
    /// ```
    pub fn new(count: i64) -> Result<Self, ShotsError> {
        match u16::try_from(count) {
            _ if count < 1 => Err(ShotsError::TooFew),
            Ok(count) if i64::from(count) <= Self::MAX => Ok(Self(count)),
            _ => Err(ShotsError::TooMany),
        }
    }

    /// The count.
    #[must_use]
    pub const fn get(self) -> u16 {
        self.0
    }

    /// Whether it is more than most people shoot in a day, and worth a second look.
    #[must_use]
    pub const fn is_unusual(self) -> bool {
        self.0 > 500
    }
}

/// One entry: shots from a bow at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShotLog {
    /// Which entry. Whoever logs may choose it, and then may send it as often as they like.
    pub id: ShotLogId,
    /// From which bow.
    pub bow_id: BowId,
    /// When.
    pub time: LogTime,
    /// How many.
    pub shots: Shots,
    /// What for.
    pub kind: LogKind,
    /// Anything worth knowing.
    pub note: Note,
    /// Who entered it.
    pub entered_by: MemberId,
    /// When it reached us.
    pub received_at: Timestamp,
}

/// A correction: what a log should have said. The last of a chain of them counts; one that is void
/// ends the chain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Correction {
    /// Which log, by its own id and not by that of another correction.
    pub corrects: ShotLogId,
    /// The version of that log from which it was made.
    pub version: i32,
    /// The log as it should have been, under an id of its own, entered by who corrects it.
    pub log: ShotLog,
    /// There was no such shooting at all: it counts for nothing.
    pub void: bool,
    /// It is void because this other log is of the same shooting.
    pub merged_into: Option<ShotLogId>,
}

impl ShotLog {
    /// Whether the other says the same: a log sent twice differs only in when it arrived and in
    /// how far the phone's clock was off by then.
    #[must_use]
    pub fn says_the_same(&self, other: &Self) -> bool {
        (self.id, self.bow_id, self.shots, self.kind, &self.note)
            == (other.id, other.bow_id, other.shots, other.kind, &other.note)
            && self.time.stated == other.time.stated
            && self.time.date_only == other.time.date_only
    }
}
