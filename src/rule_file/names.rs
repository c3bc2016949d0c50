//! Squads and bows of a club by their names, as a rule file calls them.

use domain::{
    bows::{Bow, Division},
    ids::ClubId,
    parts::PartKind,
    rules::{Material, Rule, Scope},
    squads::Squad,
    text::Name,
};
use store::{Page, Read, StoreError};

use super::file::ScopeTable;

/// Those of a club.
pub(super) struct Names {
    bows: Vec<Bow>,
    squads: Vec<Squad>,
}

impl Names {
    pub(super) fn of(read: &mut Read<'_>, club: ClubId) -> Result<Self, StoreError> {
        let everything = Page { after: None, limit: u32::MAX >> 1 };
        Ok(Self {
            bows: store::bows::all(read, club)?,
            squads: store::squads::list(read, club, None, everything)?,
        })
    }

    /// The scope that is written so, for parts of a kind.
    pub(super) fn scope(
        &self,
        written: Option<&ScopeTable>,
        kind: PartKind,
    ) -> Result<Scope, String> {
        let scope = match written {
            None => Scope::Club,
            Some(ScopeTable::Division(word)) => Division::parse(word)
                .map(Scope::Division)
                .ok_or_else(|| format!("scope.division: {word} is no division"))?,
            Some(ScopeTable::Material(name)) => {
                let material = Name::parse(name).map_err(|why| format!("scope.material: {why}"))?;
                Scope::Material(Material::new(material))
            }
            Some(ScopeTable::Squad(name)) => {
                let named = self.squads.iter().filter(|squad| squad.name.as_str() == name);
                Scope::Squad(the_one("scope.squad", name, named.map(|squad| squad.id))?)
            }
            Some(ScopeTable::Bow(name)) => {
                let named = self.bows.iter().filter(|bow| bow.name.as_str() == name);
                let bow = the_one("scope.bow", name, named)?;
                if !bow.division.has(kind) {
                    return Err(format!(
                        "scope.bow: {name} is a {} and has no such part",
                        bow.division
                    ));
                }
                Scope::Bow(bow.id)
            }
        };
        if scope.can_cover(kind) {
            return Ok(scope);
        }
        Err(format!("scope: bows of that division have no {}", kind.label()))
    }

    /// A rule in a line: on what, which work, and for which parts.
    pub(super) fn called(&self, rule: &Rule) -> String {
        let scope = match self.written(&rule.scope) {
            None => "club".to_owned(),
            Some(ScopeTable::Division(name)) => format!("division {name}"),
            Some(ScopeTable::Material(name)) => format!("material {name}"),
            Some(ScopeTable::Squad(name)) => format!("squad {name}"),
            Some(ScopeTable::Bow(name)) => format!("bow {name}"),
        };
        format!("{} {} ({scope})", rule.part_kind, rule.task)
    }

    /// How a scope is written; nothing is for the whole club. A squad that is gone has no name.
    pub(super) fn written(&self, scope: &Scope) -> Option<ScopeTable> {
        Some(match scope {
            Scope::Club => return None,
            Scope::Division(division) => ScopeTable::Division(division.to_string()),
            Scope::Material(material) => ScopeTable::Material(material.to_string()),
            Scope::Squad(id) => {
                let squad = self.squads.iter().find(|squad| squad.id == *id);
                ScopeTable::Squad(squad.map_or_else(|| id.to_string(), |one| one.name.to_string()))
            }
            Scope::Bow(id) => {
                let bow = self.bows.iter().find(|bow| bow.id == *id);
                ScopeTable::Bow(bow.map_or_else(|| id.to_string(), |one| one.name.to_string()))
            }
        })
    }
}

/// The only one that has the name.
fn the_one<T>(place: &str, name: &str, mut named: impl Iterator<Item = T>) -> Result<T, String> {
    match (named.next(), named.next()) {
        (Some(one), None) => Ok(one),
        (None, _) => Err(format!("{place}: the club has none that is called {name}")),
        (Some(_), Some(_)) => Err(format!("{place}: the club has more than one called {name}")),
    }
}
