//! Taking entries from a body: who and what they name must be there, and whoever sets them may only
//! change those of people and bows within their reach.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    bows::Bow,
    events::{Entry, EventError, MOST_ENTRIES, entered_twice, may_enter},
    ids::{BowId, MemberId, PartId},
    membership::People,
    parts::{Part, PartKind},
};
use serde::Deserialize;
use store::{Read, Tx};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{auth::SignedIn, error::ApiError, fields::Fields, object::Object};

/// The entries that an event is to have.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SetEntries {
    #[schema(value_type = Vec<EnterArcher>, max_items = 500)]
    entries: Vec<Object<EnterArcher>>,
}

/// Who is to go with which bow.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[expect(clippy::struct_field_names, reason = "the names of the document, all of which are ids")]
pub(crate) struct EnterArcher {
    member_id: Uuid,
    bow_id: Uuid,
    /// The string that lies in the case.
    spare_part_id: Option<Uuid>,
}

impl SetEntries {
    /// The entries as they were named; nothing of them is checked yet.
    pub(super) fn named(self) -> Result<Vec<Entry>, ApiError> {
        let mut fields = Fields::default();
        if self.entries.len() > MOST_ENTRIES {
            fields.take::<(), _>("/entries", Err(EventError::Entries));
        }
        let entry = |Object(named): Object<EnterArcher>| Entry {
            member: MemberId(named.member_id),
            bow: BowId(named.bow_id),
            spare: named.spare_part_id.map(PartId),
        };
        let entries: Vec<Entry> = self.entries.into_iter().map(entry).collect();
        if let Some(place) = entered_twice(&entries) {
            fields.take::<(), _>(&format!("/entries/{place}"), Err(EventError::EnteredTwice));
        }
        fields.finish(Some(entries))
    }
}

/// What entries may name.
pub(super) struct Known {
    people: People,
    bows: BTreeMap<BowId, Bow>,
    parts: BTreeMap<PartId, Part>,
}

impl Known {
    /// What is on record of all that these entries name. Until the transaction ends nobody of the club
    /// leaves it or their squad.
    pub(super) fn of(
        tx: &mut Tx<'_>,
        who: SignedIn,
        entries: &[&[Entry]],
    ) -> Result<Self, ApiError> {
        let all = || entries.iter().flat_map(|entries| entries.iter());
        let bows: BTreeSet<BowId> = all().map(|entry| entry.bow).collect();
        let spares: BTreeSet<PartId> = all().filter_map(|entry| entry.spare).collect();
        Ok(Self {
            people: store::members::current_to_change(tx, who.club)?,
            bows: store::bows::some(tx, who.club, &Vec::from_iter(bows))?,
            parts: store::parts::some(tx, who.club, &Vec::from_iter(spares))?,
        })
    }

    /// Passes entries that name what there is. One that stands as it did is taken as it is: its string
    /// may have been retired since, and who set it may have left.
    pub(super) fn check(&self, before: &[Entry], after: &[Entry]) -> Result<(), ApiError> {
        let mut fields = Fields::default();
        for (place, entry) in after.iter().enumerate() {
            if before.contains(entry) {
                continue;
            }
            let mut refuse = |field: &str, code, detail: &str| {
                fields.refuse(&format!("/entries/{place}/{field}"), code, detail);
            };
            if self.people.get(entry.member).is_none() {
                refuse("member_id", "unknown_member", "must be a member of your club");
            }
            if !self.bows.contains_key(&entry.bow) {
                refuse("bow_id", "unknown_bow", "must be a bow of your club");
            }
            if let Some((code, detail)) = entry.spare.and_then(|spare| self.no_spare(spare)) {
                refuse("spare_part_id", code, detail);
            }
        }
        fields.finish(Some(()))
    }

    /// Why a part is no spare string, if it is none.
    fn no_spare(&self, part: PartId) -> Option<(&'static str, &'static str)> {
        match self.parts.get(&part) {
            None => Some(("unknown_part", "must be a part of your club")),
            Some(part) if part.kind != PartKind::Bowstring => {
                Some(("not_a_string", "must be a string"))
            }
            Some(part) if part.retirement.is_some() => {
                Some(("part_retired", "must not be retired"))
            }
            Some(_string) => None,
        }
    }

    /// Passes who changes only entries of people and bows within their reach.
    pub(super) fn check_reach(
        &self,
        read: &mut Read<'_>,
        who: SignedIn,
        before: &[Entry],
        after: &[Entry],
    ) -> Result<(), ApiError> {
        if may_enter(&who.reach(read)?, &self.bows, before, after) {
            return Ok(());
        }
        Err(ApiError::Forbidden(
            "a coach enters the archers of their squads with their bows, and leaves every other entry \
             as it is",
        ))
    }
}
