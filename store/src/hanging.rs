//! Where parts hung, for several at once: their own fittings and those of what they hung on.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use domain::{
    fittings::{Fitting, Host},
    ids::{BowId, ClubId, PartId},
    ledger::{Stretch, stretches},
};
use jiff::Timestamp;

use crate::{Read, StoreError, fittings, schema::fittings as table, sql_types::Key};

/// Every fitting of some parts and of their hosts, oldest first.
pub(crate) struct Hanging(BTreeMap<PartId, Vec<Fitting>>);

impl Hanging {
    /// Where these parts hung.
    pub(crate) fn of(
        read: &mut Read<'_>,
        club: ClubId,
        parts: &[PartId],
    ) -> Result<Self, StoreError> {
        let mut found = fittings::of_parts(read, club, parts)?;
        let hosts = found.values().flatten().filter_map(|stay| match stay.host {
            Host::Part(host) if !found.contains_key(&host) => Some(host),
            _ => None,
        });
        let hosts: BTreeSet<PartId> = hosts.collect();
        let hosts: Vec<PartId> = hosts.into_iter().collect();
        found.extend(fittings::of_parts(read, club, &hosts)?);
        Ok(Self(found))
    }

    /// Where every part of a club hung.
    pub(crate) fn of_club(read: &mut Read<'_>, club: ClubId) -> Result<Self, StoreError> {
        Ok(Self(fittings::of_club(read, club)?))
    }

    /// As far as it had come at a moment.
    pub(crate) fn until(mut self, at: Timestamp) -> Self {
        for stays in self.0.values_mut() {
            stays.retain(|stay| stay.from <= at);
            for stay in stays {
                stay.to = stay.to.filter(|to| *to <= at);
            }
        }
        self
    }

    /// The fittings of one of them, oldest first.
    pub(crate) fn stays(&self, part: PartId) -> &[Fitting] {
        self.0.get(&part).map(Vec::as_slice).unwrap_or_default()
    }

    /// The bow that one of them was under at a moment.
    pub(crate) fn bow_at(&self, part: PartId, at: Timestamp) -> Option<BowId> {
        let then = |part| self.stays(part).iter().find(|stay| stay.covers(at));
        match then(part)?.host {
            Host::Bow(bow) => Some(bow),
            Host::Part(host) => bow(then(host)?),
        }
    }

    /// When and under which bows one of them hung, oldest first.
    pub(crate) fn stretches(&self, part: PartId) -> Vec<Stretch> {
        stretches(self.stays(part), &self.0)
    }

    /// Every bow that one of them, or what it hung on, was ever fitted to.
    pub(crate) fn bows(&self) -> BTreeSet<BowId> {
        self.0.values().flatten().filter_map(bow).collect()
    }
}

/// The bow that a part is under, or was under last; where its host went without it does not matter.
pub(crate) fn last_bow(stretches: &[Stretch]) -> Option<BowId> {
    stretches.last().map(|stretch| stretch.bow_id)
}

const fn bow(stay: &Fitting) -> Option<BowId> {
    match stay.host {
        Host::Bow(bow) => Some(bow),
        Host::Part(_) => None,
    }
}

/// The bow that each of these parts is under, or was under last; of those that ever were under one.
pub fn last_bows(
    read: &mut Read<'_>,
    club: ClubId,
    parts: &[PartId],
) -> Result<BTreeMap<PartId, BowId>, StoreError> {
    let hung = Hanging::of(read, club, parts)?;
    Ok(parts.iter().filter_map(|part| Some((*part, last_bow(&hung.stretches(*part))?))).collect())
}

/// Every part that ever was on one of these bows, and every part that ever rode on such a part.
pub(crate) fn ever_under(
    read: &mut Read<'_>,
    club: ClubId,
    bows: &BTreeSet<BowId>,
) -> Result<BTreeSet<PartId>, StoreError> {
    let mine = table::club_id.eq(Key(club.0));
    let on_bows = table::bow_id.eq_any(bows.iter().map(|bow| Some(Key(bow.0)))).assume_not_null();
    let direct: Vec<Key> = table::table
        .filter(mine.and(on_bows))
        .select(table::part_id)
        .distinct()
        .order(table::part_id)
        .load(read.conn())?;
    let on_them = table::host_part_id.eq_any(direct.iter().copied().map(Some)).assume_not_null();
    let riding: Vec<Key> = table::table
        .filter(mine.and(on_them))
        .select(table::part_id)
        .distinct()
        .order(table::part_id)
        .load(read.conn())?;
    Ok(direct.into_iter().chain(riding).map(|key| PartId(key.0)).collect())
}
