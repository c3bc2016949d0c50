//! What must not be shot, and what lifts that: the same in whatever order it became known, and equal
//! to a plain look at the raw lists.

use std::cell::Cell;

use domain::{
    clearances::BowClearance,
    fittings::Host,
    ids::{BowId, PartId},
    incidents::{Incident, IncidentKind},
    parts::{End, Part, PartKind, Retirement},
    rules::{BowStop, Stop, StopCause},
    text::Note,
    upkeep::{Finding, Grade, Upkeep, UpkeepTask},
};
use jiff::Timestamp;
use proptest::{collection::vec, option, prelude::*};
use store::{bow_clearances, fittings, incidents, parts, testing::both, upkeep};
use tokio::runtime::Runtime;

use crate::{
    any_order::{enter, runner, scene_for},
    invented::{self, at, at_hour, found, incident, just_before, name, note, stay, work},
    season::{Happening, Season, fit_if_free, seasons},
    support::{Database, Refused, Scene, on_both},
};

/// A season in which bows were dry fired and parts inspected.
#[derive(Debug, Clone)]
pub(crate) struct Mishaps {
    pub(crate) season: Season,
    incidents: Vec<Incident>,
    inspections: Vec<Upkeep>,
    clearances: Vec<BowClearance>,
}

const KINDS: [IncidentKind; 4] = [
    IncidentKind::DryFire,
    IncidentKind::StrandCut,
    IncidentKind::LimbDamage,
    IncidentKind::Soaked,
];

/// Times are whole hours of two days, so that much falls on one instant; parts come and go often, so
/// that many come under a bow after something happened to it, and after somebody has cleared it.
pub(crate) fn mishaps() -> impl Strategy<Value = Mishaps> {
    let stays = vec((0..6_usize, 0..3_usize, 0..48_i64, option::of(1..9_i64)), 10..50);
    let incidents = vec((0..2_usize, 0..KINDS.len(), 0..30_i64), 1..5);
    let inspections = vec((0..6_usize, 0..5_usize, 0..48_i64), 4..16);
    let clearances = vec((0..2_usize, 0..36_i64), 0..3);
    (seasons(0..1), stays, incidents, inspections, clearances).prop_map(
        |(season, stays, incidents, inspections, clearances)| {
            let mut season = Season { stays: Vec::new(), ..season };
            for (part, host, from, hours) in stays {
                let host = match part {
                    0..3 => Host::Bow(season.bows[host % 2].id),
                    _ => Host::Part(season.parts[host].id),
                };
                fit_if_free(&mut season.stays, &season.parts, part, host, (from, hours));
            }
            let nobody = invented::id();
            let happened = |(bow, kind, hour): (usize, usize, i64)| {
                incident(nobody, season.bows[bow].id, KINDS[kind], at_hour(hour))
            };
            let inspected = |(part, outcome, hour): (usize, usize, i64)| {
                let part = season.parts[part].id;
                let look = work(nobody, part, UpkeepTask::Inspected, at_hour(hour));
                match outcome {
                    0 => found(look, Finding::CutStrand, Grade::Unsafe),
                    1 => found(look, Finding::FuzzyStrands, Grade::Marked),
                    _ => Upkeep { note: note("looked over"), ..look }.judged_by(true),
                }
            };
            let incidents = incidents.into_iter().map(happened).collect();
            let inspections = inspections.into_iter().map(inspected).collect();
            let cleared = |(bow, hour): (usize, i64)| {
                invented::clearance(nobody, season.bows[bow].id, at_hour(hour))
            };
            let clearances = clearances.into_iter().map(cleared).collect();
            Mishaps { season, incidents, inspections, clearances }
        },
    )
}

/// One thing to be entered.
#[derive(Debug, Clone)]
pub(crate) enum Entry {
    OfSeason(Happening),
    Happened(Incident),
    Inspected(Upkeep),
    Cleared(BowClearance),
}

impl Mishaps {
    /// Orders in which to enter it: fittings before the rest and after it, and two of chance.
    pub(crate) fn orders(&self) -> Vec<Vec<Entry>> {
        let fittings: Vec<Entry> =
            self.season.in_order().into_iter().map(Entry::OfSeason).collect();
        let happened = self.incidents.iter().cloned().map(Entry::Happened);
        let inspected = self.inspections.iter().cloned().map(Entry::Inspected);
        let cleared = self.clearances.iter().cloned().map(Entry::Cleared);
        let rest: Vec<Entry> = happened.chain(inspected).chain(cleared).collect();
        let whole = self.season.shuffled(1).into_iter().map(Entry::OfSeason);
        let mixed: Vec<Entry> = whole.chain(rest.iter().cloned()).collect();
        let (first, last) = ([fittings.clone(), rest.clone()].concat(), [rest, fittings].concat());
        vec![first, last, self.by_chance(mixed.clone(), 1), self.by_chance(mixed, 2)]
    }

    /// The ids of its parts.
    pub(crate) fn parts(&self) -> Vec<PartId> {
        self.season.parts.iter().map(|part| part.id).collect()
    }

    fn by_chance(&self, mut all: Vec<Entry>, salt: usize) -> Vec<Entry> {
        let chance = &self.season.chance;
        for n in (1..all.len()).rev() {
            all.swap(n, chance[(n * 7 + salt * 13) % chance.len()] as usize % (n + 1));
        }
        all
    }

    /// Why a part must not be shot, by a plain look at everything; `heeded` says whether a bow that was
    /// cleared may be shot with what comes later.
    pub(crate) fn stop(&self, part: PartId, heeded: bool) -> Option<Stop> {
        let own = || self.inspections.iter().filter(|look| look.part_id == part);
        let cleared_at = own().filter(|look| look.clears).map(|look| look.at).max();
        let bad = own().flat_map(|look| {
            let unsafe_ones = look.findings.iter().filter(|(_, grade)| **grade == Grade::Unsafe);
            unsafe_ones.map(|(f, _)| Stop { at: look.at, cause: StopCause::Finding(*f) })
        });
        let happened = self.incidents.iter().filter(|one| self.concerns(one, part, heeded));
        let happened =
            happened.map(|one| Stop { at: one.at, cause: StopCause::Incident(one.kind) });
        let open = |stop: &Stop| cleared_at.is_none_or(|cleared_at| stop.at > cleared_at);
        bad.chain(happened).filter(open).max()
    }

    /// When a bow was cleared: as a whole, or by an inspection of a part that was under it.
    fn cleared_at(&self, bow: BowId) -> Vec<Timestamp> {
        let of_part = self
            .inspections
            .iter()
            .filter(|look| look.clears && self.season.bow_over(look.part_id, look.at) == Some(bow));
        let whole = self.clearances.iter().filter(|one| one.bow_id == bow).map(|one| one.at);
        of_part.map(|look| look.at).chain(whole).collect()
    }

    /// What a bow must not be shot for, whatever hangs on it, by a plain look at everything.
    fn bow_stop(&self, bow: BowId) -> Option<BowStop> {
        let last = self.cleared_at(bow).into_iter().max();
        let open = self.incidents.iter().filter(|one| {
            one.bow_id == bow
                && one.kind != IncidentKind::Soaked
                && last.is_none_or(|last| one.at > last)
        });
        let stop = |one: &Incident| BowStop {
            stop: Stop { at: one.at, cause: StopCause::Incident(one.kind) },
            incident: one.id,
        };
        open.map(stop).max()
    }

    fn concerns(&self, one: &Incident, part: PartId, heeded: bool) -> bool {
        let under =
            |part: PartId, at: Timestamp| self.season.bow_over(part, at) == Some(one.bow_id);
        let came =
            self.season.stays.iter().map(|stay| stay.from).filter(|&from| {
                from > one.at && under(part, from) && !under(part, just_before(from))
            });
        let cleared_before = |came: Timestamp| {
            self.cleared_at(one.bow_id).iter().any(|at| (one.at..came).contains(at))
        };
        let mut came = came;
        one.kind != IncidentKind::Soaked
            && (under(part, one.at) || came.any(|from| !(heeded && cleared_before(from))))
    }
}

#[test]
fn stops_are_the_same_in_any_order() {
    let runtime = Runtime::new().unwrap();
    for fresh in both() {
        let db = Database { store: fresh.open(), fresh };
        let (stopped, spared, bows) = (Cell::new(0), Cell::new(0), Cell::new(0));
        runner(40)
            .run(&mishaps(), |mishaps| {
                let (some, others, both) = runtime.block_on(check_orders(&db, &mishaps));
                stopped.set(stopped.get() + some);
                bows.set(bows.get() + both);
                spared.set(spared.get() + others);
                Ok(())
            })
            .unwrap_or_else(|error| panic!("on {}: {error}", db.fresh.url));
        // Otherwise it would have tried nothing.
        assert!(stopped.get() > 60, "only {} parts were stopped", stopped.get());
        assert!((12..70).contains(&bows.get()), "{} of 80 bows were stopped", bows.get());
        assert!(spared.get() > 8, "only {} came after the bow was cleared", spared.get());
    }
}

/// Enters it in every order; says how many parts must not be shot, to how many it matters that somebody
/// had cleared the bow before they came, and how many bows must not be shot.
async fn check_orders(db: &Database, mishaps: &Mishaps) -> (usize, usize, usize) {
    let ids = mishaps.parts();
    let stops = |heeded| ids.iter().map(|id| mishaps.stop(*id, heeded)).collect::<Vec<_>>();
    let (expected, unheeded) = (stops(true), stops(false));
    let bows: Vec<BowId> = mishaps.season.bows.iter().map(|bow| bow.id).collect();
    let bow_stops: Vec<_> = bows.iter().map(|bow| mishaps.bow_stop(*bow)).collect();
    for (n, order) in mishaps.orders().into_iter().enumerate() {
        let scene = scene_for(db, &mishaps.season, &[]).await;
        let (written, parts) = (scene.clone(), mishaps.season.parts.clone());
        scene
            .write(move |tx, _| order.iter().try_for_each(|one| write(tx, &written, &parts, one)))
            .await
            .unwrap();
        assert_eq!(scene.stops(&ids).await, expected, "order {n}");
        assert_eq!(scene.bow_stops(&bows).await, bow_stops, "order {n}");
    }
    let spared = expected.iter().zip(&unheeded).filter(|(stop, other)| stop != other).count();
    (expected.iter().flatten().count(), spared, bow_stops.iter().flatten().count())
}

/// Enters one of them.
pub(crate) fn write(
    tx: &mut store::Tx<'_>,
    scene: &Scene,
    of: &[Part],
    one: &Entry,
) -> Result<(), Refused> {
    let (club, entered_by) = (scene.club.id, scene.owner);
    match one.clone() {
        Entry::OfSeason(happening) => enter(tx, scene, &happening).map(drop),
        Entry::Happened(one) => Ok(incidents::add(tx, club, &Incident { entered_by, ..one })?),
        Entry::Cleared(one) => {
            Ok(bow_clearances::add(tx, club, &BowClearance { entered_by, ..one })?)
        }
        Entry::Inspected(look) => {
            let part = of.iter().find(|part| part.id == look.part_id).unwrap();
            Ok(upkeep::record(tx, club, part, &Upkeep { entered_by, ..look })?)
        }
    }
}

/// An inspection by a coach who says why it may be shot again.
fn clearing(scene: &Scene, part: &Part, at: Timestamp) -> Upkeep {
    let look = work(scene.owner, part.id, UpkeepTask::Inspected, at);
    let clearing = Upkeep { note: note("no damage found"), ..look }.judged_by(true);
    assert!(clearing.clears);
    clearing
}

fn dry_fire(day: i64) -> Stop {
    Stop { at: at(day), cause: StopCause::Incident(IncidentKind::DryFire) }
}

#[tokio::test]
async fn a_dry_fire_stops_all_that_is_under_the_bow_until_each_is_cleared() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let limbs = scene.part(PartKind::Limbs).await;
        scene.fit(limbs.id, Host::Bow(on.bow.id), at(0)).await;
        let other = scene.strung_bow("red", at(0)).await;
        let all = [on.string.id, on.serving.id, limbs.id, other.string.id];
        scene.happened(&on.bow, IncidentKind::Soaked, at(4)).await;
        assert_eq!(scene.stops(&all).await, [None; 4]);
        scene.happened(&on.bow, IncidentKind::DryFire, at(5)).await;
        let stopped = [Some(dry_fire(5)), Some(dry_fire(5)), Some(dry_fire(5)), None];
        assert_eq!(scene.stops(&all).await, stopped);
        // Looked at by somebody who may not clear it, or before it happened.
        scene.maintain(&on.string, UpkeepTask::Inspected, at(6)).await;
        scene.record(&on.string, clearing(&scene, &on.string, just_before(at(5)))).await;
        assert_eq!(scene.stops(&all).await, stopped);
        scene.record(&on.string, clearing(&scene, &on.string, at(6))).await;
        assert_eq!(scene.stops(&all).await, [None, Some(dry_fire(5)), Some(dry_fire(5)), None]);
        // Time lifts nothing, and neither does another bow.
        let limbs_again = clearing(&scene, &limbs, at(7));
        scene.record(&limbs, limbs_again).await;
        assert_eq!(scene.stops(&all).await, [None, Some(dry_fire(5)), None, None]);
    })
    .await;
}

#[tokio::test]
async fn a_string_that_comes_later_is_stopped_until_somebody_has_cleared_the_bow() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let limbs = scene.part(PartKind::Limbs).await;
        scene.fit(limbs.id, Host::Bow(on.bow.id), at(0)).await;
        scene.happened(&on.bow, IncidentKind::DryFire, at(5)).await;
        scene.take_off(on.string_on.id, at(6)).await;
        let (second, third) =
            (scene.part(PartKind::Bowstring).await, scene.part(PartKind::Bowstring).await);
        let second_on = scene.fit(second.id, Host::Bow(on.bow.id), at(6)).await;
        scene.take_off(second_on.id, at(10)).await;
        scene.fit(third.id, Host::Bow(on.bow.id), at(10)).await;
        let strings = [on.string.id, second.id, third.id];
        assert_eq!(
            scene.stops(&strings).await,
            [Some(dry_fire(5)), Some(dry_fire(5)), Some(dry_fire(5))]
        );
        // Entered last, though it happened before the third came: the limbs are cleared, and with
        // them the bow, for whatever came after that.
        scene.record(&limbs, clearing(&scene, &limbs, at(8))).await;
        assert_eq!(scene.stops(&strings).await, [Some(dry_fire(5)), Some(dry_fire(5)), None]);
        // A string that is cleared in its case says nothing of the bow.
        scene.record(&on.string, clearing(&scene, &on.string, at(7))).await;
        assert_eq!(scene.stops(&strings).await, [None, Some(dry_fire(5)), None]);
    })
    .await;
}

#[tokio::test]
async fn a_fitting_that_ends_earlier_than_was_known_takes_its_clearing_along() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let rest = scene.part(PartKind::Rest).await;
        let rest_on = scene.fit(rest.id, Host::Bow(on.bow.id), at(0)).await;
        scene.happened(&on.bow, IncidentKind::DryFire, at(5)).await;
        scene.record(&rest, clearing(&scene, &rest, at(7))).await;
        let limbs = scene.part(PartKind::Limbs).await;
        scene.fit(limbs.id, Host::Bow(on.bow.id), at(8)).await;
        assert_eq!(scene.stops(&[limbs.id]).await, [None]);
        scene.take_off(rest_on.id, at(6)).await;
        assert_eq!(scene.stops(&[limbs.id]).await, [Some(dry_fire(5))]);
    })
    .await;
}

#[tokio::test]
async fn an_unsafe_finding_stops_the_part_it_was_found_on_and_is_lifted_by_a_later_look() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let parts = [on.string.id, on.serving.id];
        let look = |day| work(scene.owner, on.string.id, UpkeepTask::Inspected, at(day));
        let slight = found(look(1), Finding::FuzzyStrands, Grade::Marked);
        scene.record(&on.string, slight).await;
        assert_eq!(scene.stops(&parts).await, [None, None]);
        let bad = found(look(3), Finding::LoopWear, Grade::Unsafe);
        scene.record(&on.string, bad.clone()).await;
        let worn = Some(Stop { at: at(3), cause: StopCause::Finding(Finding::LoopWear) });
        assert_eq!(scene.stops(&parts).await, [worn, None]);
        // Somebody who finds it unsafe clears nothing, whoever they are and whatever they say.
        let worse = found(look(4), Finding::CutStrand, Grade::Unsafe);
        let worse = Upkeep { note: Note::parse("cut").unwrap(), ..worse }.judged_by(true);
        scene.record(&on.string, worse).await;
        let cut = Some(Stop { at: at(4), cause: StopCause::Finding(Finding::CutStrand) });
        assert_eq!(scene.stops(&parts).await, [cut, None]);
        scene.record(&on.string, clearing(&scene, &on.string, at(5))).await;
        assert_eq!(scene.stops(&parts).await, [None, None]);
    })
    .await;
}

#[tokio::test]
async fn a_retired_part_is_not_stopped_besides() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        scene.happened(&on.bow, IncidentKind::StrandCut, at(5)).await;
        let string = on.string.clone();
        let end = Retirement { at: at(6), end: End::Broke, reason: name("a strand was cut") };
        scene
            .write(move |tx, club| parts::retire::<Refused>(tx, club, string, end).map(drop))
            .await
            .unwrap();
        assert_eq!(scene.stops(&[on.string.id]).await, [None]);
        assert!(scene.stops(&[on.serving.id]).await[0].is_some());
        // Nor by what becomes known of it afterwards.
        scene.happened(&on.bow, IncidentKind::DryFire, at(1)).await;
        assert_eq!(scene.stops(&[on.string.id]).await, [None]);
    })
    .await;
}

#[tokio::test]
async fn a_refused_fitting_stops_nothing() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        scene.happened(&on.bow, IncidentKind::DryFire, at(5)).await;
        let second = scene.part(PartKind::Bowstring).await;
        let clash = stay(second.id, Host::Bow(on.bow.id), at(6), None);
        let refused = scene.write(move |tx, club| fittings::fit::<Refused>(tx, club, &clash)).await;
        assert!(refused.is_err());
        assert_eq!(scene.stops(&[second.id]).await, [None]);
    })
    .await;
}
