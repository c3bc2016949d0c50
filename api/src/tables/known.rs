//! What of a club a file may refer to: people by address, bows and parts by id or by name. Read once for
//! a file.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    bows::Bow,
    clubs::Club,
    ids::{BowId, MemberId, PartId},
    members::Member,
    parts::Part,
    reach::Reach,
};
use jiff::{Timestamp, civil::Date};
use store::{Page, Read, StoreError};
use uuid::Uuid;

use super::{Actor, cells::Cells};

/// Everything on record.
pub(super) const ALL: Page = Page { after: None, limit: u32::MAX };

pub(super) struct Known {
    pub(super) actor: Actor,
    pub(super) club: Club,
    pub(super) now: Timestamp,
    pub(super) reach: Reach,
    /// Those who left too.
    pub(super) people: BTreeMap<MemberId, Member>,
    pub(super) bows: BTreeMap<BowId, Bow>,
    pub(super) parts: BTreeMap<PartId, Part>,
    by_address: BTreeMap<String, Vec<MemberId>>,
    /// Those within reach.
    bows_named: Named,
    parts_named: Named,
}

/// What rows may name: its ids, and which of them have a name, in lower case.
struct Named {
    /// What they are, in words.
    what: &'static str,
    ids: BTreeSet<Uuid>,
    by_name: BTreeMap<String, Vec<Uuid>>,
}

impl Named {
    fn of<'k>(what: &'static str, named: impl Iterator<Item = (Uuid, &'k str)>) -> Self {
        let mut found = Self { what, ids: BTreeSet::new(), by_name: BTreeMap::new() };
        for (id, name) in named {
            found.ids.insert(id);
            found.by_name.entry(name.to_lowercase()).or_default().push(id);
        }
        found
    }
}

impl Known {
    pub(super) fn of(
        read: &mut Read<'_>,
        actor: Actor,
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        let club = store::clubs::get(read, actor.club)?;
        let reach = store::squads::reach(read, actor.club, actor.member, actor.role)?;
        let bows = store::bows::all(read, actor.club)?;
        let parts = store::parts::list(read, actor.club, ALL)?;
        let people = store::members::all(read, actor.club)?;
        let mut by_address: BTreeMap<String, Vec<MemberId>> = BTreeMap::new();
        for person in &people {
            by_address.entry(person.email.to_string()).or_default().push(person.id);
        }
        let within = bows.iter().filter(|bow| reach.bow(bow));
        let bow_names = within.map(|bow| (bow.id.0, bow.name.as_str()));
        let part_names = parts.iter().map(|part| (part.id.0, part.name.as_str()));
        Ok(Self {
            bows_named: Named::of("bow of your club, within your reach", bow_names),
            parts_named: Named::of("part of your club", part_names),
            actor,
            club,
            now,
            reach,
            people: people.into_iter().map(|person| (person.id, person)).collect(),
            bows: bows.into_iter().map(|bow| (bow.id, bow)).collect(),
            parts: parts.into_iter().map(|part| (part.id, part)).collect(),
            by_address,
        })
    }

    pub(super) fn today(&self) -> Date {
        self.club.zone.date_of(self.now)
    }

    /// The address of somebody within reach.
    pub(super) fn address(&self, member: MemberId) -> Option<&str> {
        let person = self.people.get(&member)?;
        self.reach.member(member).then_some(person.email.as_str())
    }

    /// Everybody who has or had an address, in lower case.
    pub(super) fn so_addressed(&self, address: &str) -> impl Iterator<Item = &Member> {
        let ids = self.by_address.get(address).into_iter().flatten();
        ids.filter_map(|id| self.people.get(id))
    }

    /// Who has an address: somebody in the club, or else who left it last.
    pub(super) fn person(&self, cells: &mut Cells<'_>, column: &str) -> Option<MemberId> {
        cells.parse_if(column, |address| {
            let named = address.to_lowercase();
            let within = self.so_addressed(&named).filter(|one| self.reach.member(one.id));
            let found = within.max_by_key(|one| (one.left_at.is_none(), one.left_at));
            let unknown = "must be the address of somebody in your club, and within your reach";
            found.map(|one| one.id).ok_or(unknown)
        })
    }

    /// Who entered a row: whoever the file says, or who brings it in.
    pub(super) fn entered_by(&self, cells: &mut Cells<'_>) -> Option<MemberId> {
        match cells.text("entered_by") {
            Some(_) => self.person(cells, "entered_by"),
            None => Some(self.actor.member),
        }
    }

    /// A bow within reach, by its id or else its name; none if neither is given, or it was refused.
    pub(super) fn bow(&self, cells: &mut Cells<'_>) -> Option<BowId> {
        found(cells, ("bow_id", "bow"), &self.bows_named).map(BowId)
    }

    /// The same, where a row must name one.
    pub(super) fn needed_bow(&self, cells: &mut Cells<'_>) -> Option<BowId> {
        if cells.text("bow_id").is_none() && cells.text("bow").is_none() {
            cells.refuse("bow_id", "give bow_id, or a name that only one bow has");
        }
        self.bow(cells)
    }

    /// A part, by its id or else its name.
    pub(super) fn part(&self, cells: &mut Cells<'_>, columns: (&str, &str)) -> Option<PartId> {
        found(cells, columns, &self.parts_named).map(PartId)
    }

    pub(super) fn bow_name(&self, bow: BowId) -> &str {
        self.bows.get(&bow).map_or("", |bow| bow.name.as_str())
    }

    pub(super) fn part_name(&self, part: PartId) -> &str {
        self.parts.get(&part).map_or("", |part| part.name.as_str())
    }
}

/// What a row names by id, or else by a name that only one has.
fn found(cells: &mut Cells<'_>, (by_id, by_name): (&str, &str), named: &Named) -> Option<Uuid> {
    if cells.text(by_id).is_some() {
        let id = cells.id(by_id)?;
        if named.ids.contains(&id) {
            return Some(id);
        }
        cells.refuse(by_id, format!("must be the id of a {}", named.what));
        return None;
    }
    let name = cells.text(by_name)?.trim().to_lowercase();
    match named.by_name.get(&name).map(Vec::as_slice) {
        Some([id]) => Some(*id),
        Some([_, _, ..]) => {
            cells.refuse(by_name, format!("is the name of more than one; give {by_id}"));
            None
        }
        Some([]) | None => {
            cells.refuse(by_name, format!("must be the name of a {}", named.what));
            None
        }
    }
}
