//! For which parts a rule is: those of the whole club, or of less. Of several rules for one kind of work
//! the one with the narrowest scope speaks.

use super::{PartRecord, Rule};
use crate::{
    bows::Division,
    ids::{BowId, SquadId},
    parts::PartKind,
    text::Name,
};

/// For which parts of its kind a rule is, from the widest to the narrowest.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Scope {
    /// All of the club.
    Club,
    /// Those under bows of a division.
    Division(Division),
    /// Those of a material, in whatever case that is written.
    Material(Name),
    /// Those under bows that an archer of a squad shoots.
    Squad(SquadId),
    /// Those under one bow.
    Bow(BowId),
}

impl Scope {
    /// How the kind of scope is spelt.
    #[must_use]
    pub const fn as_str(&self) -> &'static str {
        match self {
            Self::Club => "club",
            Self::Division(_) => "division",
            Self::Material(_) => "material",
            Self::Squad(_) => "squad",
            Self::Bow(_) => "bow",
        }
    }

    /// How narrow it is: a scope with a higher number goes before one with a lower.
    const fn narrowness(&self) -> u8 {
        match self {
            Self::Club => 0,
            Self::Division(_) => 1,
            Self::Material(_) => 2,
            Self::Squad(_) => 3,
            Self::Bow(_) => 4,
        }
    }

    /// Whether a part is within it, by the bow that it is under or was under last.
    #[must_use]
    pub fn covers(&self, record: &PartRecord) -> bool {
        let under = record.under.as_ref();
        match self {
            Self::Club => true,
            Self::Division(division) => under.is_some_and(|under| under.division == *division),
            Self::Material(material) => {
                let made_of = record.part.material.as_ref();
                made_of.is_some_and(|made_of| same_material(made_of, material))
            }
            Self::Squad(squad) => under.is_some_and(|under| under.squads.contains(squad)),
            Self::Bow(bow) => under.is_some_and(|under| under.bow == *bow),
        }
    }

    /// Whether a part of the kind can ever be within it.
    #[must_use]
    pub fn can_cover(&self, kind: PartKind) -> bool {
        match self {
            Self::Division(division) => division.has(kind),
            _ => true,
        }
    }
}

/// Whether two names of a material mean the same.
fn same_material(a: &Name, b: &Name) -> bool {
    a.as_str().to_lowercase() == b.as_str().to_lowercase()
}

/// The rules that speak for a part, of those in force: for each kind of work the ones with the narrowest
/// scope that covers it. More than one speaks only where the archer is in several squads that have a
/// rule each.
///
/// # Example
/// See [`super::assess`], which asks this for each part.
#[must_use]
pub fn applying<'r>(rules: &'r [Rule], record: &PartRecord) -> Vec<&'r Rule> {
    let covers = |rule: &&Rule| rule.part_kind == record.part.kind && rule.scope.covers(record);
    let all: Vec<&Rule> = rules.iter().filter(covers).collect();
    let narrowest = |rule: &&&Rule| {
        let same = all.iter().filter(|other| other.task == rule.task);
        let narrowness = rule.scope.narrowness();
        same.map(|other| other.scope.narrowness()).max().is_none_or(|most| narrowness == most)
    };
    all.iter().filter(narrowest).copied().collect()
}
