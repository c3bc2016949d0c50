//! How a rule book is written in TOML. Knows words and places in a file; nothing of a club.

use std::ops::Range;

use serde::{Deserialize, Serialize};
use toml::Spanned;

/// What stands above a written book.
pub(super) const HEADING: &str = "\
# A rule book: which work, on which parts, at which limits.
# Local rules, the bow and string makers' instructions and a qualified bow technician come first.
";

/// A whole file.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RuleFile {
    #[serde(default)]
    pub(super) rule: Vec<Spanned<RuleTable>>,
}

/// One rule.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RuleTable {
    pub(super) part_kind: String,
    pub(super) task: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) scope: Option<ScopeTable>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) combine: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) shots: Option<ShotsTable>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) days: Option<DaysTable>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) finding: Option<FindingTable>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) incidents: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) event_notice_days: Option<i64>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) checks_at_shots: Vec<i64>,
    /// In force from this day on; none, or one that is over: at once.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) effective_on: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) override_reason: Option<String>,
    pub(super) source: String,
}

/// For which parts; squads and bows by their names.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum ScopeTable {
    Division(String),
    Material(String),
    Squad(String),
    Bow(String),
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ShotsTable {
    pub(super) plan: i64,
    #[serde(default, skip_serializing_if = "is_zero")]
    pub(super) notice: i64,
    #[serde(default, skip_serializing_if = "is_zero")]
    pub(super) grace: i64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) retire: Option<i64>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct DaysTable {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) plan: Option<i64>,
    #[serde(default, skip_serializing_if = "is_zero")]
    pub(super) notice: i64,
    #[serde(default, skip_serializing_if = "is_zero")]
    pub(super) grace: i64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) retire_months: Option<i64>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FindingTable {
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) any_of: Vec<String>,
    pub(super) from_grade: i64,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the signature that serde calls")]
const fn is_zero(n: &i64) -> bool {
    *n == 0
}

/// Why a file cannot be read, and where in it.
#[derive(Debug, thiserror::Error)]
pub(super) enum FileError {
    /// Not TOML, or not a rule book.
    #[error(transparent)]
    Toml(#[from] toml::de::Error),
    /// Rules that the club cannot have.
    #[error("{}", .0.join("\n"))]
    Rules(Vec<String>),
}

impl RuleFile {
    /// Reads a file. A key that is not known is refused by its place.
    pub(super) fn read(text: &str) -> Result<Self, FileError> {
        Ok(toml::from_str(text)?)
    }
}

/// The line that a place in a text is on, from 1 on.
pub(super) fn line(text: &str, place: &Range<usize>) -> usize {
    1 + text.bytes().take(place.start).filter(|byte| *byte == b'\n').count()
}
