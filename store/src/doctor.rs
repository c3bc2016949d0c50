//! Proof that what is derived equals what it is derived of: every counter counted anew from the ledger,
//! and every stop derived anew, and held against what is kept. It reads; mending is asked for apart.

use std::collections::{BTreeMap, BTreeSet};

use domain::{ids::ClubId, rules::Stop};

use crate::{
    Read, StoreError, Tx, bow_days, bow_stops, bows, clubs,
    dialect::{self, Hold},
    parts, stops, wear,
};

/// What a look at a club's counters found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Findings {
    /// How many counters were held against their sums.
    pub counters: usize,
    /// Those that differ.
    pub wrong: Vec<Wrong>,
}

/// A counter that is not what it stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wrong {
    /// Which counter, by its table and what it counts.
    pub counter: String,
    /// What it says; none if it is missing.
    pub says: Option<String>,
    /// What the sum is; none if there should be no such counter.
    pub sum: Option<String>,
}

impl Findings {
    fn compare(&mut self, counter: impl Fn() -> String, says: Option<String>, sum: Option<String>) {
        self.counters += 1;
        if says != sum {
            self.wrong.push(Wrong { counter: counter(), says, sum });
        }
    }
}

/// Counts every counter of a club anew and names those that differ.
pub fn ledger(read: &mut Read<'_>, club: ClubId) -> Result<Findings, StoreError> {
    let mut findings = Findings::default();
    wear_of_parts(read, club, &mut findings)?;
    days_of_bows(read, club, &mut findings)?;
    stops_of_both(read, club, &mut findings)?;
    Ok(findings)
}

fn wear_of_parts(
    read: &mut Read<'_>,
    club: ClubId,
    findings: &mut Findings,
) -> Result<(), StoreError> {
    for part in parts::all(read, club)? {
        let kept = wear::kept(read, club, part.id)?;
        let counted = wear::counted_of(read, club, &part)?;
        for clock in both(&kept, &counted) {
            let name = || {
                format!(
                    "wear of {} {} ({}), clock {}",
                    part.kind,
                    part.id,
                    part.name,
                    clock.as_str()
                )
            };
            let [says, sum] = [&kept, &counted].map(|of| of.get(&clock).cloned());
            findings.compare(name, says, sum);
        }
    }
    Ok(())
}

fn days_of_bows(
    read: &mut Read<'_>,
    club: ClubId,
    findings: &mut Findings,
) -> Result<(), StoreError> {
    let (kept, sums) = (bow_days::kept(read, club)?, bow_days::counted(read, club)?);
    let names = bows::all(read, club)?;
    let name = |bow| names.iter().find(|one| one.id == bow).map(|one| one.name.to_string());
    for (bow, on) in both(&kept, &sums) {
        let [says, sum] = [&kept, &sums].map(|of| of.get(&(bow, on)).map(ToString::to_string));
        let counter =
            || format!("bow_days of bow {bow} ({}) on {on}", name(bow).unwrap_or_default());
        findings.compare(counter, says, sum);
    }
    Ok(())
}

fn stops_of_both(
    read: &mut Read<'_>,
    club: ClubId,
    findings: &mut Findings,
) -> Result<(), StoreError> {
    let (parts, bows) = stops::derived(read, club)?;
    let (kept_parts, kept_bows) = (stops::of_club(read, club)?, bow_stops::of_club(read, club)?);
    let words = |stop: &Stop| format!("{} of {}", stop.cause.label(), stop.at);
    for part in both(&kept_parts, &parts) {
        let [says, sum] = [&kept_parts, &parts].map(|of| of.get(&part).map(words));
        findings.compare(|| format!("stop of part {part}"), says, sum);
    }
    for bow in both(&kept_bows, &bows) {
        let [says, sum] =
            [&kept_bows, &bows].map(|of| of.get(&bow).map(|found| words(&found.stop)));
        findings.compare(|| format!("stop of bow {bow}"), says, sum);
    }
    Ok(())
}

/// Every key of either.
fn both<K: Ord + Copy, V>(a: &BTreeMap<K, V>, b: &BTreeMap<K, V>) -> BTreeSet<K> {
    a.keys().chain(b.keys()).copied().collect()
}

/// Derives everything of a club anew and keeps that.
pub fn mend(tx: &mut Tx<'_>, club: ClubId) -> Result<(), StoreError> {
    dialect::hold(tx, club, Hold::Alone)?;
    for part in parts::all(tx, club)? {
        wear::recount(tx, club, &part)?;
    }
    bow_days::recount(tx, club)?;
    stops::reckon_club(tx, club)
}

/// The same of every club.
pub fn all(read: &mut Read<'_>) -> Result<Vec<(ClubId, Findings)>, StoreError> {
    let clubs = clubs::ids(read)?;
    clubs.into_iter().map(|club| Ok((club, ledger(read, club)?))).collect()
}
