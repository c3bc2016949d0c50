//! For which parts a rule is: those of the whole club, or of less. Of several rules for one kind of work
//! the one with the narrowest scope speaks.

use std::{cmp::Ordering, fmt};

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
    /// Those of a material.
    Material(Material),
    /// Those under bows that an archer of a squad shoots.
    Squad(SquadId),
    /// Those under one bow.
    Bow(BowId),
}

/// The name of a material: the same in whatever case it is written.
#[derive(Debug, Clone)]
pub struct Material(Name);

impl Material {
    /// The material of that name.
    #[must_use]
    pub const fn new(name: Name) -> Self {
        Self(name)
    }

    /// Whether a part of that material is of this one.
    fn is(&self, name: &Name) -> bool {
        self.folded() == name.as_str().to_lowercase()
    }

    fn folded(&self) -> String {
        self.0.as_str().to_lowercase()
    }
}

impl fmt::Display for Material {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl PartialEq for Material {
    fn eq(&self, other: &Self) -> bool {
        self.folded() == other.folded()
    }
}

impl Eq for Material {}

impl PartialOrd for Material {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Material {
    fn cmp(&self, other: &Self) -> Ordering {
        self.folded().cmp(&other.folded())
    }
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
                record.part.material.as_ref().is_some_and(|made_of| material.is(made_of))
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

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use jiff::Timestamp;
    use uuid::Uuid;

    use super::*;
    use crate::{
        ids::RuleId,
        parts::Part,
        rules::{RuleTask, Seen, Under, default_book},
    };

    fn string(material: Option<&str>, under: Option<Under>) -> PartRecord {
        let part = Part {
            material: material.map(|name| Name::parse(name).unwrap()),
            ..Part::bare(PartKind::Bowstring)
        };
        PartRecord {
            part,
            readings: Vec::new(),
            first_fitted_at: None,
            changed_at: None,
            stop: None,
            under,
            seen: Seen::default(),
        }
    }

    fn id(n: u128) -> Uuid {
        Uuid::from_u128(n)
    }

    /// Waxing rules with these scopes, and which of them speak for a part.
    fn speaking(scopes: &[Scope], record: &PartRecord) -> Vec<usize> {
        let wax = default_book(Timestamp::UNIX_EPOCH, || RuleId(Uuid::nil())).swap_remove(0);
        assert_eq!(wax.task, RuleTask::Wax);
        let numbered = scopes.iter().zip(0_u128..);
        let rules: Vec<Rule> = numbered
            .map(|(scope, n)| Rule { id: RuleId(id(n)), scope: scope.clone(), ..wax.clone() })
            .collect();
        let place = |rule: &Rule| rules.iter().position(|one| one.id == rule.id).unwrap();
        applying(&rules, record).into_iter().map(place).collect()
    }

    #[test]
    fn the_narrowest_scope_that_covers_a_part_speaks() {
        let (bow, other) = (BowId(id(1)), BowId(id(2)));
        let (squad, none_of_theirs) = (SquadId(id(3)), SquadId(id(4)));
        let hmpe = Scope::Material(Material::new(Name::parse("hmpe").unwrap()));
        let from_wide_to_narrow = [
            Scope::Club,
            Scope::Division(Division::Compound),
            hmpe,
            Scope::Squad(squad),
            Scope::Bow(bow),
        ];
        let squads = BTreeSet::from([squad]);
        let record = |bow, division, material| {
            string(Some(material), Some(Under { bow, division, squads: squads.clone() }))
        };
        let theirs = record(bow, Division::Compound, "HMPE");
        for known in 1..=5 {
            assert_eq!(speaking(&from_wide_to_narrow[..known], &theirs), [known - 1]);
        }
        let all = &from_wide_to_narrow;
        assert_eq!(speaking(all, &record(other, Division::Compound, "HMPE")), [3]);
        assert_eq!(speaking(&all[..3], &record(other, Division::Recurve, "Polyester")), [0]);
        assert_eq!(speaking(&all[..2], &record(other, Division::Compound, "HMPE")), [1]);
        assert_eq!(speaking(all, &string(None, None)), [0]);
        assert_eq!(speaking(&[Scope::Squad(none_of_theirs)], &theirs), [0_usize; 0]);
        assert_eq!(speaking(&[Scope::Squad(squad), Scope::Squad(squad)], &theirs), [0, 1]);
    }

    #[test]
    fn only_compounds_have_cables_cams_peep_and_d_loop() {
        for kind in [PartKind::Cable, PartKind::Cams, PartKind::Peep, PartKind::DLoop] {
            assert!(Scope::Division(Division::Compound).can_cover(kind));
            assert!(!Scope::Division(Division::Longbow).can_cover(kind));
        }
        assert!(Scope::Division(Division::Longbow).can_cover(PartKind::Bowstring));
    }
}
