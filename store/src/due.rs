//! What the parts of a club want: their records loaded here and judged by the domain. All parts of a
//! club take a constant number of statements, single parts a few each.

use std::collections::BTreeMap;

use domain::{
    bows::Bow,
    clubs::Club,
    fittings::{Fitting, Host},
    ids::{BowId, ClubId, PartId},
    parts::Part,
    rules::{Assessment, Condition, PartRecord, Rule, assess},
    text::Name,
};
use jiff::Timestamp;

use crate::{Read, StoreError, bows, clubs, fittings, parts, rules, wear};

/// A part, what it is now, and the bow it is under.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The part and its clocks.
    pub record: PartRecord,
    /// What the club's rules say of it.
    pub assessment: Assessment,
    /// The bow it hangs under now, directly or on a string.
    pub bow: Option<Bow>,
}

/// Every part in use of a club, the most urgent first; of equally urgent ones by bow, then in the
/// order they were added.
pub fn of_club(
    read: &mut Read<'_>,
    club: &Club,
    now: Timestamp,
) -> Result<Vec<Judged>, StoreError> {
    let rules = rules::of_club(read, club.id)?;
    let mut readings = wear::of_club(read, club.id)?;
    let first_fitted = fittings::first_fitted(read, club.id)?;
    let covering = fittings::covering(read, club.id, now)?;
    let bows: BTreeMap<BowId, Bow> =
        bows::all(read, club.id)?.into_iter().map(|bow| (bow.id, bow)).collect();
    let mut judged: Vec<Judged> = parts::in_use(read, club.id)?
        .into_iter()
        .map(|part| {
            let bow = bow_over(&covering, part.id).and_then(|id| bows.get(&id).cloned());
            let readings = readings.remove(&part.id).unwrap_or_default();
            let fitted_at = first_fitted.get(&part.id).copied();
            let record =
                PartRecord { first_fitted_at: beginning(&part, fitted_at), part, readings };
            let assessment = assess(&record, &rules, &club.zone, club.zone.date_of(now));
            Judged { record, assessment, bow }
        })
        .collect();
    judged.sort_by(|a, b| urgency(a).cmp(&urgency(b)));
    Ok(judged)
}

/// What a list of what is due is sorted by.
fn urgency(judged: &Judged) -> (Condition, Option<&Name>, PartId) {
    let bow = judged.bow.as_ref().map(|bow| &bow.name);
    (judged.assessment.condition, bow, judged.record.part.id)
}

/// Single parts of a club, judged in the order asked for.
pub fn of_parts(
    read: &mut Read<'_>,
    club: ClubId,
    part_ids: &[PartId],
    now: Timestamp,
) -> Result<Vec<Judged>, StoreError> {
    let club = clubs::get(read, club)?;
    let rules = rules::of_club(read, club.id)?;
    part_ids.iter().map(|&part| judge_one(read, &club, &rules, part, now)).collect()
}

fn judge_one(
    read: &mut Read<'_>,
    club: &Club,
    rules: &[Rule],
    part: PartId,
    now: Timestamp,
) -> Result<Judged, StoreError> {
    let part = parts::get(read, club.id, part)?;
    let of_part = fittings::of_part(read, club.id, part.id)?;
    let of_hosts = fittings::of_hosts(read, club.id, &of_part)?;
    let covering: BTreeMap<PartId, Fitting> = of_part
        .iter()
        .chain(of_hosts.values().flatten())
        .filter(|fitting| fitting.covers(now))
        .map(|fitting| (fitting.part_id, *fitting))
        .collect();
    let bow = bow_over(&covering, part.id).map(|bow| bows::get(read, club.id, bow)).transpose()?;
    let readings = wear::readings(read, club.id, part.id)?;
    let fitted_at = of_part.first().map(|fitting| fitting.from);
    let record = PartRecord { first_fitted_at: beginning(&part, fitted_at), part, readings };
    let assessment = assess(&record, rules, &club.zone, club.zone.date_of(now));
    Ok(Judged { record, assessment, bow })
}

/// The bow that a part is under, where `covering` holds what is fitted now.
fn bow_over(covering: &BTreeMap<PartId, Fitting>, part: PartId) -> Option<BowId> {
    match covering.get(&part)?.host {
        Host::Bow(bow) => Some(bow),
        Host::Part(host) => match covering.get(&host)?.host {
            Host::Bow(bow) => Some(bow),
            Host::Part(_) => None,
        },
    }
}

/// When a part's days begin to count: when it was first fitted, or earlier if it came used.
fn beginning(part: &Part, fitted_at: Option<Timestamp>) -> Option<Timestamp> {
    let came_used_at = part.start.filter(|start| start.shots > 0).map(|start| start.at);
    [fitted_at, came_used_at].into_iter().flatten().min()
}
