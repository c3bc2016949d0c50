//! For which parts a rule is, as it is written and read.

use domain::{
    bows::Division,
    ids::{BowId, SquadId},
    parts::PartKind,
    rules::{Material, Scope},
};
use serde::{Deserialize, Serialize};
use store::Read;
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use crate::{auth::SignedIn, error::ApiError, fields::Fields, openapi::one_of};

/// The kinds of scope, from the widest to the narrowest.
const KINDS: [&str; 5] = ["club", "division", "material", "squad", "bow"];

/// For which parts of its kind a rule is. Of several rules for one kind of work the one with the
/// narrowest scope speaks: bow before squad, squad before material, material before division, division
/// before club.
#[derive(Debug, Clone, Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ScopeBody {
    #[schema(schema_with = kinds)]
    of: String,
    /// With `division`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "compound")]
    division: Option<String>,
    /// With `material`; in whatever case it is written.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "HMPE", max_length = 200)]
    material: Option<String>,
    /// With `squad`: bows that an archer of it shoots.
    #[serde(skip_serializing_if = "Option::is_none")]
    squad_id: Option<Uuid>,
    /// With `bow`.
    #[serde(skip_serializing_if = "Option::is_none")]
    bow_id: Option<Uuid>,
}

fn kinds() -> RefOr<Schema> {
    one_of(KINDS)
}

impl From<&Scope> for ScopeBody {
    fn from(scope: &Scope) -> Self {
        let of = scope.as_str().to_owned();
        let club = Self { of, division: None, material: None, squad_id: None, bow_id: None };
        match scope {
            Scope::Club => club,
            Scope::Division(one) => Self { division: Some(one.to_string()), ..club },
            Scope::Material(one) => Self { material: Some(one.to_string()), ..club },
            Scope::Squad(squad) => Self { squad_id: Some(squad.0), ..club },
            Scope::Bow(bow) => Self { bow_id: Some(bow.0), ..club },
        }
    }
}

impl ScopeBody {
    /// The scope of a rule for parts of a kind.
    pub(super) fn parse(&self, fields: &mut Fields, kind: Option<PartKind>) -> Option<Scope> {
        self.refuse_others(fields);
        let scope = match self.of.as_str() {
            "club" => Some(Scope::Club),
            "division" => {
                let word = self.needed(fields, "/scope/division", self.division.as_deref())?;
                let known = Division::ALL;
                fields.word("/scope/division", word, Division::parse, known).map(Scope::Division)
            }
            "material" => {
                let name = self.needed(fields, "/scope/material", self.material.as_deref())?;
                fields.name("/scope/material", name).map(Material::new).map(Scope::Material)
            }
            "squad" => {
                let id = self.needed(fields, "/scope/squad_id", self.squad_id)?;
                Some(Scope::Squad(SquadId(id)))
            }
            "bow" => {
                let id = self.needed(fields, "/scope/bow_id", self.bow_id)?;
                Some(Scope::Bow(BowId(id)))
            }
            _ => {
                let known = KINDS.join(", ");
                fields.refuse("/scope/of", "unknown_word", format!("must be one of {known}"));
                None
            }
        }?;
        if kind.is_some_and(|kind| !scope.can_cover(kind)) {
            fields.refuse("/scope", "never_covers", "bows of that division have no such part");
            return None;
        }
        Some(scope)
    }

    /// Notes every field that belongs to another kind of scope.
    fn refuse_others(&self, fields: &mut Fields) {
        let given = [
            ("division", "division", self.division.is_some()),
            ("material", "material", self.material.is_some()),
            ("squad", "squad_id", self.squad_id.is_some()),
            ("bow", "bow_id", self.bow_id.is_some()),
        ];
        for (of, field, there) in given {
            if there && of != self.of {
                let detail = format!("goes only with the scope {of}");
                fields.refuse(&format!("/scope/{field}"), "contradicts_scope", detail);
            }
        }
    }

    fn needed<T>(&self, fields: &mut Fields, pointer: &str, given: Option<T>) -> Option<T> {
        if given.is_none() {
            fields.refuse(pointer, "missing", format!("is needed with the scope {}", self.of));
        }
        given
    }
}

/// Passes a scope whose squad or bow is one of the club, and whose bow can have such a part.
pub(super) fn is_of_the_club(
    read: &mut Read<'_>,
    who: SignedIn,
    (scope, kind): (&Scope, PartKind),
) -> Result<(), ApiError> {
    match scope {
        Scope::Squad(squad) => Ok(store::squads::get(read, who.club, *squad).map(drop)?),
        Scope::Bow(bow) => {
            let bow = store::bows::get(read, who.club, *bow)?;
            if bow.division.has(kind) {
                return Ok(());
            }
            let mut fields = Fields::default();
            fields.refuse(
                "/scope/bow_id",
                "never_covers",
                "a bow of its division has no such part",
            );
            fields.finish(None)
        }
        _ => Ok(()),
    }
}
