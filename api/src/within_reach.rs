//! What of a club is within somebody's reach: parts by the bow they are under or were under last, and
//! pages of lists that are filled with nothing else.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    bows::Bow,
    ids::{BowId, PartId},
    reach::Reach,
};
use store::{Page, Read, StoreError, Tx};
use uuid::Uuid;

use crate::{auth::SignedIn, error::ApiError};

/// Why a part is out of reach.
const NOT_THEIR_PART: ApiError = ApiError::Forbidden(
    "this is for who may look after the bow that the part is under or was under last; a part that \
     never hung under a bow is for coaches and owners",
);

/// The bows of a club that somebody may look after.
pub(crate) fn bows(read: &mut Read<'_>, who: SignedIn) -> Result<BTreeMap<BowId, Bow>, StoreError> {
    let reach = who.reach(read)?;
    let all = store::bows::all(read, who.club)?.into_iter();
    Ok(all.filter(|bow| reach.bow(bow)).map(|bow| (bow.id, bow)).collect())
}

/// Those of these parts that somebody may see and work on.
pub(crate) fn parts(
    read: &mut Read<'_>,
    who: SignedIn,
    asked: &[PartId],
) -> Result<BTreeSet<PartId>, StoreError> {
    if who.reach(read)? == Reach::Everybody {
        return Ok(asked.iter().copied().collect());
    }
    let last_bows = store::hanging::last_bows(read, who.club, asked)?;
    let within = bows(read, who)?;
    let never_hung = who.looks_after_others().is_ok();
    let passes = |part: &&PartId| {
        last_bows.get(part).map_or(never_hung, |last_bow| within.contains_key(last_bow))
    };
    Ok(asked.iter().filter(passes).copied().collect())
}

/// The bow that a part is under, or was under last.
pub(crate) fn bow_of_part(
    read: &mut Read<'_>,
    who: SignedIn,
    part: PartId,
) -> Result<Option<BowId>, StoreError> {
    Ok(store::hanging::last_bows(read, who.club, &[part])?.get(&part).copied())
}

/// Passes who may see a part and work on it.
pub(crate) fn may_tend_part(
    read: &mut Read<'_>,
    who: SignedIn,
    part: PartId,
) -> Result<(), ApiError> {
    if parts(read, who, &[part])?.contains(&part) { Ok(()) } else { Err(NOT_THEIR_PART) }
}

/// Passes who may put a part to use under a bow of theirs: one within their reach, or one that never
/// hung under a bow.
pub(crate) fn may_use_part(
    read: &mut Read<'_>,
    who: SignedIn,
    part: PartId,
) -> Result<(), ApiError> {
    if store::hanging::last_bows(read, who.club, &[part])?.is_empty() {
        return Ok(());
    }
    may_tend_part(read, who, part)
}

/// Reads a list on until `page` is full. `fetch` gives the rows of a page, each with its id and
/// without the row itself where that is out of reach.
pub(crate) fn fill<R, E>(
    page: Page,
    mut fetch: impl FnMut(Page) -> Result<Vec<(Uuid, Option<R>)>, E>,
) -> Result<Vec<R>, E> {
    let full = usize::try_from(page.limit).unwrap_or(usize::MAX);
    let (mut found, mut next) = (Vec::new(), page);
    loop {
        let rows = fetch(next)?;
        let last = rows.last().map(|(id, _)| *id).filter(|_| rows.len() >= full);
        found.extend(rows.into_iter().filter_map(|(_, row)| row));
        match last {
            Some(last) if found.len() < full => next.after = Some(last),
            _ => break,
        }
    }
    found.truncate(full);
    Ok(found)
}

/// Does what changes where parts hang. An archer may not date it so that a stop would be gone: only an
/// inspection by a coach or owner lifts one. Whoever looks after others' bows may set records right.
pub(crate) fn keeping_stops<T>(
    tx: &mut Tx<'_>,
    who: SignedIn,
    change: impl FnOnce(&mut Tx<'_>) -> Result<T, ApiError>,
) -> Result<T, ApiError> {
    if who.looks_after_others().is_ok() { change(tx) } else { lifting_none(tx, who, change) }
}

/// Does what must lift no stop, whoever does it.
pub(crate) fn lifting_none<T>(
    tx: &mut Tx<'_>,
    who: SignedIn,
    change: impl FnOnce(&mut Tx<'_>) -> Result<T, ApiError>,
) -> Result<T, ApiError> {
    let before = store::stops::standing_to_change(tx, who.club)?;
    let done = change(tx)?;
    let after = store::stops::standing_to_change(tx, who.club)?;
    let mut lifted = !before.bows.is_subset(&after.bows);
    for &part in before.parts.difference(&after.parts) {
        // Whatever becomes of a part that is thrown away, its bow is stopped by itself.
        lifted |= store::parts::get(tx, who.club, part)?.retirement.is_none();
    }
    if lifted {
        let detail = "the bow or something of it must not be shot, and by this the reason would be \
                      gone; a coach or owner has to inspect it first";
        let (code, detail) = ("would_lift_stop", detail.to_owned());
        return Err(ApiError::Conflict { code, detail });
    }
    Ok(done)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The numbers from 1 to `most` that pass, read in pages.
    fn filled(most: u128, limit: u32, after: Option<u128>, passes: fn(u128) -> bool) -> Vec<u128> {
        let page = Page { after: after.map(Uuid::from_u128), limit };
        let rows = |page: Page| {
            let after = page.after.map_or(0, |id| id.as_u128());
            let numbers = (after + 1..=most).take(page.limit as usize);
            let row = |n| (Uuid::from_u128(n), Some(n).filter(|n| passes(*n)));
            Ok::<_, ()>(numbers.map(row).collect())
        };
        fill(page, rows).unwrap()
    }

    #[test]
    fn a_page_is_full_as_long_as_anything_is_left() {
        assert_eq!(filled(10, 3, None, |n| n % 2 == 0), [2, 4, 6]);
        assert_eq!(filled(10, 3, Some(6), |n| n % 2 == 0), [8, 10]);
        assert_eq!(filled(10, 3, None, |n| n > 9), [10]);
        assert_eq!(filled(9, 3, None, |_| false), [0_u128; 0]);
        assert_eq!(filled(9, 3, None, |_| true), [1, 2, 3]);
        assert_eq!(filled(0, 3, None, |_| true), [0_u128; 0]);
    }
}
