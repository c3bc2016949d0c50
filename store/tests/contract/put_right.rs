//! Putting right what was entered by mistake: stays with wrong times, stays that never were and work
//! that was never done. Afterwards all is as if it had been right at once.

use std::cell::Cell;

use domain::{
    fittings::{Fitting, FittingError, Host},
    ids::PartId,
    parts::{End, PartKind, Retirement},
    upkeep::{Finding, Grade, Upkeep, UpkeepTask},
};
use jiff::{SignedDuration, Timestamp};
use proptest::{option, prelude::*};
use store::{StoreError, fittings, parts, testing::both, upkeep};
use tokio::runtime::Runtime;

use crate::{
    any_order::{check, enter, runner, scene_for},
    invented::{at, at_hour, found, name, note, work},
    season::{Happening, Season, fit_if_free, seasons},
    stops::{Mishaps, mishaps, write},
    support::{Database, Refused, on_both},
};

/// What was entered by mistake besides.
#[derive(Debug, Clone)]
struct Mistakes {
    /// Parts on hosts where they never were.
    stays: Vec<(usize, usize, i64, Option<i64>)>,
    /// Work on parts that was never done.
    works: Vec<(usize, usize, i64)>,
}

fn mistakes() -> impl Strategy<Value = Mistakes> {
    let stay = (0..6_usize, 0..3_usize, 0..48_i64, option::of(1..20_i64));
    let work = (0..6_usize, 0..4_usize, 0..48_i64);
    let all = (prop::collection::vec(stay, 0..12), prop::collection::vec(work, 0..6));
    all.prop_map(|(stays, works)| Mistakes { stays, works })
}

impl Mistakes {
    /// Stays that contradict none of the season's.
    fn stays(&self, season: &Season) -> Vec<Fitting> {
        let mut all = season.stays.clone();
        for &(part, host, from, hours) in &self.stays {
            let host = match part {
                0..3 => Host::Bow(season.bows[host % 2].id),
                _ => Host::Part(season.parts[host].id),
            };
            fit_if_free(&mut all, &season.parts, part, host, (from, hours));
        }
        all.split_off(season.stays.len())
    }

    /// Work, some of which stops what it was done on or lifts what forbade shooting it.
    fn works(&self, season: &Season, by: domain::ids::MemberId) -> Vec<Upkeep> {
        let one = |&(part, kind, hour): &(usize, usize, i64)| {
            let part = season.parts[part].id;
            let look = work(by, part, UpkeepTask::Inspected, at_hour(hour));
            match kind {
                0 => work(by, part, UpkeepTask::Waxed, at_hour(hour)),
                1 => found(look, Finding::CutStrand, Grade::Unsafe),
                _ => Upkeep { note: note("looked over"), ..look }.judged_by(true),
            }
        };
        self.works.iter().map(one).collect()
    }
}

const LONG_AGO: SignedDuration = SignedDuration::from_hours(24 * 400);

/// A stay as it was entered at first: long before, and over after its time or an hour.
fn misdated(stay: &Fitting) -> Fitting {
    let to = stay.to.unwrap_or(stay.from + SignedDuration::from_hours(1));
    Fitting { from: stay.from - LONG_AGO, to: Some(to - LONG_AGO), ..*stay }
}

#[test]
fn what_is_put_right_counts_as_if_it_had_been_right_at_once() {
    let runtime = Runtime::new().unwrap();
    for fresh in both() {
        let db = Database { store: fresh.open(), fresh };
        let undone = Cell::new(0);
        runner(40)
            .run(&(seasons(0..20), mistakes()), |(season, mistakes)| {
                undone.set(undone.get() + mistakes.stays(&season).len() + mistakes.works.len());
                runtime.block_on(check_season(&db, &season, &mistakes));
                Ok(())
            })
            .unwrap_or_else(|error| panic!("on {}: {error}", db.fresh.url));
        assert!(undone.get() > 60, "only {} mistakes were made", undone.get());
    }
}

async fn check_season(db: &Database, season: &Season, mistakes: &Mistakes) {
    let rules = db.scene().await.rules;
    let scene = scene_for(db, season, &rules).await;
    let never = (mistakes.stays(season), mistakes.works(season, scene.owner));
    let (written, season_) = (scene.clone(), season.clone());
    scene
        .write(move |tx, club| {
            for stay in season_.stays.iter().map(misdated).chain(never.0.iter().copied()) {
                fittings::fit::<Refused>(tx, club, &stay)?;
            }
            for work in &never.1 {
                let part = parts::get(tx, club, work.part_id)?;
                upkeep::record(tx, club, &part, work)?;
            }
            let stays =
                |one: &Happening| matches!(one, Happening::Fitted(_) | Happening::TakenOff(..));
            for one in season_.in_order().iter().filter(|one| !stays(one)) {
                enter(tx, &written, one)?;
            }
            put_right(tx, club, &season_, &never)
        })
        .await
        .unwrap();
    check(&scene, season).await;
}

/// Takes mistakes back, and moves each stay to where it was.
fn put_right(
    tx: &mut store::Tx<'_>,
    club: domain::ids::ClubId,
    season: &Season,
    never: &(Vec<Fitting>, Vec<Upkeep>),
) -> Result<(), Refused> {
    let turn = season.chance[0] as usize % (season.stays.len() + 1);
    let (late, early) = season.stays.split_at(turn);
    for stay in early.iter().chain(late) {
        let moved = fittings::change::<Refused>(tx, club, stay)?;
        assert_eq!(moved, Fitting { version: 2, ..*stay });
    }
    for stay in &never.0 {
        fittings::remove(tx, club, stay)?;
    }
    for work in &never.1 {
        let part = parts::get(tx, club, work.part_id)?;
        assert_eq!(&upkeep::get(tx, club, work.id)?, work);
        upkeep::remove(tx, club, &part, work)?;
    }
    Ok(())
}

#[test]
fn what_must_not_be_shot_is_the_same_once_mistakes_are_taken_back() {
    let runtime = Runtime::new().unwrap();
    for fresh in both() {
        let db = Database { store: fresh.open(), fresh };
        let (stopped, mattered) = (Cell::new(0), Cell::new(0));
        runner(40)
            .run(&(mishaps(), mistakes()), |(mishaps, mistakes)| {
                let (some, changed) = runtime.block_on(check_stops(&db, &mishaps, &mistakes));
                stopped.set(stopped.get() + some);
                mattered.set(mattered.get() + changed);
                Ok(())
            })
            .unwrap_or_else(|error| panic!("on {}: {error}", db.fresh.url));
        assert!(stopped.get() > 60, "only {} parts were stopped", stopped.get());
        assert!(mattered.get() > 20, "mistakes mattered to {} parts only", mattered.get());
    }
}

/// How many parts must not be shot, and to how many the mistakes made a difference.
async fn check_stops(db: &Database, mishaps: &Mishaps, mistakes: &Mistakes) -> (usize, usize) {
    let (season, ids) = (mishaps.season.clone(), mishaps.parts());
    let expected: Vec<_> = ids.iter().map(|id| mishaps.stop(*id, true)).collect();
    let scene = scene_for(db, &season, &[]).await;
    let never = (mistakes.stays(&season), mistakes.works(&season, scene.owner));
    let (written, order, undone) = (scene.clone(), mishaps.orders().remove(0), never.clone());
    let (parts_of, season_) = (season.parts.clone(), season.clone());
    scene
        .write(move |tx, club| {
            order.iter().try_for_each(|one| write(tx, &written, &parts_of, one))?;
            for stay in &never.0 {
                fittings::fit::<Refused>(tx, club, stay)?;
            }
            for work in &never.1 {
                let part = parts::get(tx, club, work.part_id)?;
                upkeep::record(tx, club, &part, work)?;
            }
            for stay in &season_.stays {
                let version = fittings::get(tx, club, stay.id)?.version;
                fittings::change::<Refused>(tx, club, &Fitting { version, ..misdated(stay) })?;
            }
            Ok(())
        })
        .await
        .unwrap();
    let with_them = scene.stops(&ids).await;
    scene
        .write(move |tx, club| {
            for stay in &season.stays {
                let version = fittings::get(tx, club, stay.id)?.version;
                fittings::change::<Refused>(tx, club, &Fitting { version, ..*stay })?;
            }
            let nothing = Season { stays: Vec::new(), ..season };
            put_right(tx, club, &nothing, &undone)
        })
        .await
        .unwrap();
    assert_eq!(scene.stops(&ids).await, expected);
    let mattered = with_them.iter().zip(&expected).filter(|(one, other)| one != other).count();
    (expected.iter().flatten().count(), mattered)
}

async fn moved(
    scene: &crate::support::Scene,
    stay: Fitting,
    (from, to): (Timestamp, Option<Timestamp>),
) -> Result<Fitting, Refused> {
    let stay = Fitting { from, to, ..stay };
    scene.write(move |tx, club| fittings::change(tx, club, &stay)).await
}

#[tokio::test]
async fn a_stay_is_moved_in_the_version_it_was_read_in_and_into_nobodys_way() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(2)).await;
        let next = scene.part(PartKind::Bowstring).await;
        let stay = scene.take_off(on.string_on.id, at(4)).await;
        assert_eq!(stay.version, 2);
        scene.fit(next.id, Host::Bow(on.bow.id), at(5)).await;
        scene.shoot(&on.bow, at(1), 30).await;
        let stale = moved(&scene, on.string_on, (at(1), Some(at(4)))).await;
        assert!(matches!(stale, Err(Refused::Store(StoreError::Changed))), "{stale:?}");
        let in_the_way = moved(&scene, stay, (at(1), Some(at(6)))).await;
        let occupied = FittingError::HostOccupied { kind: PartKind::Bowstring, from: at(5) };
        assert!(
            matches!(&in_the_way, Err(Refused::Fitting(error)) if *error == occupied),
            "{in_the_way:?}"
        );
        assert_eq!(scene.shots(&on.string).await, 0);
        let stay = moved(&scene, stay, (at(1), Some(at(5)))).await.unwrap();
        assert_eq!((scene.shots(&on.string).await, scene.shots(&on.serving).await), (30, 0));
        let (string, end) = (on.string.clone(), at(5));
        let retirement = Retirement { at: end, end: End::Worn, reason: name("frayed") };
        scene
            .write(move |tx, club| parts::retire::<Refused>(tx, club, string, retirement).map(drop))
            .await
            .unwrap();
        let longer = moved(&scene, stay, (at(1), None)).await;
        let retired = FittingError::PartRetired(end);
        assert!(matches!(&longer, Err(Refused::Fitting(error)) if *error == retired), "{longer:?}");
        let ids: [PartId; 1] = [on.string.id];
        moved(&scene, stay, (at(2), Some(at(3)))).await.unwrap();
        assert_eq!((scene.shots(&on.string).await, scene.stops(&ids).await), (0, vec![None]));
        let gone = scene.write(move |tx, club| Ok(fittings::remove(tx, club, &stay)?)).await;
        assert!(matches!(gone, Err(Refused::Store(StoreError::Changed))), "{gone:?}");
    })
    .await;
}
