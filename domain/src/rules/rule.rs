//! A rule: which work, on which kind of part, at which counts.

use jiff::{Timestamp, civil::Date};

use super::{Limits, Scope};
use crate::{
    ids::{MemberId, RuleId},
    ledger::Clock,
    parts::PartKind,
    upkeep::UpkeepTask,
    words::words,
};

words! {
    /// The work that a rule asks for.
    pub enum RuleTask {
        /// Wax the strands.
        Wax = "wax",
        /// Look it over.
        Inspect = "inspect",
        /// Wind a new serving.
        ReServe = "re_serve",
        /// Measure the nocking point.
        CheckNockingPoint = "check_nocking_point",
        /// Take the part out of use and fit another.
        Change = "change",
        /// Shoot a new part in until it is trusted.
        SettleIn = "settle_in",
        /// Measure brace height and nocking point while a new string settles.
        CheckSettling = "check_settling",
        /// Sight in after a change, once the new part has settled.
        SightIn = "sight_in",
    }
}

impl RuleTask {
    /// What the rule counts by: work that ends the part's life counts all of it, any other counts
    /// from the last time it was done.
    #[must_use]
    pub const fn clock(self) -> Clock {
        match self {
            Self::Wax => Clock::Since(UpkeepTask::Waxed),
            Self::Inspect => Clock::Since(UpkeepTask::Inspected),
            Self::CheckNockingPoint => Clock::Since(UpkeepTask::NockingPointSet),
            Self::CheckSettling => Clock::Since(UpkeepTask::BraceHeightSet),
            Self::ReServe | Self::Change | Self::SettleIn | Self::SightIn => Clock::Life,
        }
    }

    /// The work as an instruction, for a part called `part`.
    #[must_use]
    pub fn instruction(self, part: PartKind) -> String {
        let part = part.label();
        match self {
            Self::Wax => format!("wax the {part}"),
            Self::Inspect => format!("inspect the {part}"),
            Self::ReServe => format!("re-serve the {part}"),
            Self::CheckNockingPoint => "check the nocking point".to_owned(),
            Self::Change => format!("change the {part}"),
            Self::SettleIn => format!("shoot the {part} in"),
            Self::CheckSettling => "check brace height and nocking point".to_owned(),
            Self::SightIn => format!("sight in with the {part}"),
        }
    }
}

/// Who set a rule, when, and on what ground.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Provenance {
    /// When it was set.
    pub set_at: Timestamp,
    /// By whom; nobody means that it came with the club.
    pub set_by: Option<MemberId>,
    /// On what ground.
    pub source: String,
}

/// What stands between a source and the reason for a limit that needs one.
const OVERRIDE: &str = "; override: ";

impl Provenance {
    /// A source, with the reason why a limit stands that is refused without one.
    ///
    /// # Example
    /// ```
    /// use domain::rules::Provenance;
    /// let source = Provenance::source("our string maker", Some("light bows"));
    /// assert_eq!(source, "our string maker; override: light bows");
    /// ```
    #[must_use]
    pub fn source(source: &str, override_reason: Option<&str>) -> String {
        override_reason
            .map_or_else(|| source.to_owned(), |reason| format!("{source}{OVERRIDE}{reason}"))
    }

    /// The source by itself, and the reason if there is one.
    #[must_use]
    pub fn source_and_reason(&self) -> (&str, Option<&str>) {
        match self.source.split_once(OVERRIDE) {
            Some((source, reason)) => (source, Some(reason)),
            None => (&self.source, None),
        }
    }
}

/// A rule of a club's book, as one setting of it has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rule {
    /// Which rule.
    pub id: RuleId,
    /// On which kind of part.
    pub part_kind: PartKind,
    /// Which work.
    pub task: RuleTask,
    /// For which parts of that kind.
    pub scope: Scope,
    /// When the work is due.
    pub limits: Limits,
    /// In force from this day on; none means as soon as it was set.
    pub effective_on: Option<Date>,
    /// How often it was changed, and one more.
    pub version: i32,
    /// Whose setting it is.
    pub provenance: Provenance,
}
