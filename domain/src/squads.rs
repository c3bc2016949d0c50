//! Squads: archers under one or more coaches.

use std::collections::BTreeSet;

use jiff::Timestamp;

use crate::{
    ids::{MemberId, SquadId},
    text::Name,
};

/// A squad. A coach looks after the archers of their own squads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Squad {
    /// Which squad.
    pub id: SquadId,
    /// What it is called.
    pub name: Name,
    /// Who coaches it.
    pub coaches: BTreeSet<MemberId>,
    /// Who shoots in it.
    pub archers: BTreeSet<MemberId>,
    /// How often it was changed, and one more.
    pub version: i32,
    /// Since when it is on record.
    pub created_at: Timestamp,
}
