//! How a squad is written, and taking its people from a body.

use std::collections::BTreeSet;

use domain::{
    ids::MemberId,
    membership::People,
    squads::{MOST_IN_SQUAD, Squad, SquadError, SquadPart},
};
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::fields::{Coded, Fields};

/// A squad.
#[derive(Serialize, ToSchema)]
pub(crate) struct SquadBody {
    pub(super) id: Uuid,
    #[schema(example = "Thursday evening")]
    name: String,
    /// Who coaches it.
    coach_member_ids: Vec<Uuid>,
    /// Who shoots in it, as far as whoever asks looks after them.
    archer_member_ids: Vec<Uuid>,
    #[schema(value_type = String, format = DateTime)]
    created_at: Timestamp,
}

impl From<&Squad> for SquadBody {
    fn from(squad: &Squad) -> Self {
        let ids = |people: &BTreeSet<MemberId>| people.iter().map(|member| member.0).collect();
        Self {
            id: squad.id.0,
            name: squad.name.to_string(),
            coach_member_ids: ids(&squad.coaches),
            archer_member_ids: ids(&squad.archers),
            created_at: squad.created_at,
        }
    }
}

impl Coded for SquadError {
    fn code(&self) -> &'static str {
        match self {
            Self::UnknownMember => "unknown_member",
            Self::NotACoach => "not_a_coach",
            Self::TooMany => "bad_length",
        }
    }
}

/// Those who are named for a part in a squad.
pub(super) fn people_of(
    fields: &mut Fields,
    people: &People,
    part: SquadPart,
    named: &[Uuid],
) -> Option<BTreeSet<MemberId>> {
    let pointer = format!("/{part}_member_ids");
    if named.len() > MOST_IN_SQUAD {
        return fields.take(&pointer, Err(SquadError::TooMany));
    }
    let mut taken = Some(BTreeSet::new());
    for (place, &id) in named.iter().enumerate() {
        let member = part.check(people, MemberId(id));
        match (fields.take(&format!("{pointer}/{place}"), member), &mut taken) {
            (Some(member), Some(taken)) => drop(taken.insert(member)),
            _ => taken = None,
        }
    }
    taken
}
