//! What is said to people, before it is worded.

use jiff::civil::Date;

use crate::{
    bows::Bow,
    parts::PartKind,
    rules::{Condition, RuleTask},
    text::Name,
};

/// The content of a digest.
#[derive(Debug, Clone, PartialEq)]
pub struct Digest {
    /// From which club.
    pub club: Name,
    /// To whom.
    pub recipient: Name,
    /// Their date.
    pub on: Date,
    /// What there is to do, the most urgent first; never empty.
    pub lines: Vec<DigestLine>,
}

/// One piece of work in a digest.
#[derive(Debug, Clone, PartialEq)]
pub struct DigestLine {
    /// On which bow.
    pub bow: Bow,
    /// Who shoots that bow.
    pub archer: Option<Name>,
    /// What the part is.
    pub part_kind: PartKind,
    /// What the part is called.
    pub part: Name,
    /// Which work.
    pub task: RuleTask,
    /// How urgent.
    pub condition: Condition,
    /// Why, in words and numbers.
    pub reason: String,
}

/// The content of a notice that a bow must not be shot.
#[derive(Debug, Clone, PartialEq)]
pub struct StopNotice {
    /// From which club.
    pub club: Name,
    /// To whom.
    pub recipient: Name,
    /// Which bow.
    pub bow: Bow,
    /// Who shoots it.
    pub archer: Option<Name>,
    /// Which of its parts, and why; never empty.
    pub parts: Vec<StoppedPart>,
}

/// A part that must not be shot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoppedPart {
    /// What it is.
    pub kind: PartKind,
    /// What it is called.
    pub name: Name,
    /// Why, in words, and what would lift it.
    pub reason: String,
}
