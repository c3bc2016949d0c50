//! Whatever order entries come in, however often and however many at once: wear and the due list
//! are the same, and equal to a plain count.

use std::{sync::mpsc, time::Duration};

use domain::{
    account::Tally,
    fittings::Host,
    ids::{BowId, PartId},
    ledger::{Clock, Reading},
    parts::PartKind,
    upkeep::UpkeepTask,
};
use jiff::Timestamp;
use proptest::{
    strategy::{Strategy, ValueTree},
    test_runner::{Config, RngAlgorithm, TestRng, TestRunner},
};
use store::{
    account, bows, doctor, due, due::Judged, fittings, ledger, ledger::Appended, parts,
    testing::both, upkeep, wear,
};
use tokio::{runtime::Runtime, sync::oneshot, task::JoinSet};

use crate::{
    invented::{self, at_hour, shot_log},
    season::{Happening, Season, seasons},
    support::{Database, Refused, Scene, on_both},
};

/// The same seasons each time.
pub(crate) fn runner(cases: u32) -> TestRunner {
    let config =
        Config { cases, failure_persistence: None, max_shrink_iters: 100, ..Config::default() };
    TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha))
}

pub(crate) fn now() -> Timestamp {
    at_hour(40)
}

#[test]
fn order_and_repetition_change_neither_wear_nor_the_due_list() {
    let runtime = Runtime::new().unwrap();
    for fresh in both() {
        let db = Database { store: fresh.open(), fresh };
        runner(32)
            .run(&seasons(0..40), |season| {
                runtime.block_on(check_orders(&db, &season));
                Ok(())
            })
            .unwrap_or_else(|error| panic!("on {}: {error}", db.fresh.url));
    }
}

async fn check_orders(db: &Database, season: &Season) {
    let rules = db.scene().await.rules;
    for happenings in [season.in_order(), season.shuffled(1), season.shuffled(2)] {
        let scene = scene_for(db, season, &rules).await;
        // One transaction for all of it: the season is what is under test here, not the commits.
        let written = scene.clone();
        scene
            .write(move |tx, _| {
                happenings.iter().try_for_each(|one| enter(tx, &written, one).map(drop))
            })
            .await
            .unwrap();
        check(&scene, season).await;
    }
}

/// A club with the season's bows and parts, to which nothing has happened. Ids are the same in
/// each of these clubs, which is allowed.
pub(crate) async fn scene_for(
    db: &Database,
    season: &Season,
    rules: &[domain::rules::Rule],
) -> Scene {
    let scene = db.scene_of(invented::club(), rules.to_vec()).await;
    let (bows, parts) = (season.bows.clone(), season.parts.clone());
    scene
        .write(move |tx, club| {
            bows.iter().try_for_each(|bow| bows::add(tx, club, bow))?;
            parts.iter().try_for_each(|part| parts::add(tx, club, part))?;
            Ok(())
        })
        .await
        .unwrap();
    scene
}

/// Enters one happening; of a log it says whether it was new.
pub(crate) fn enter(
    tx: &mut store::Tx<'_>,
    scene: &Scene,
    one: &Happening,
) -> Result<bool, Refused> {
    let (club, entered_by) = (scene.club.id, scene.owner);
    match one.clone() {
        Happening::Fitted(stay) => fittings::fit::<Refused>(tx, club, &stay)?,
        Happening::TakenOff(stay, at) => {
            fittings::take_off::<Refused>(tx, club, stay, at)?;
        }
        Happening::Maintained(part, work) => {
            upkeep::record(tx, club, &part, &domain::upkeep::Upkeep { entered_by, ..work })?;
        }
        Happening::Shot(log) => {
            let log = domain::ledger::ShotLog { entered_by, ..log };
            let appended = ledger::append(tx, club, &log)?.appended;
            assert!(!matches!(appended, Appended::IdTaken));
            return Ok(appended == Appended::New);
        }
    }
    Ok(true)
}

/// Holds the club against the plain count.
pub(crate) async fn check(scene: &Scene, season: &Season) {
    for part in &season.parts {
        let expected = season.readings(part);
        for reading in &expected {
            assert_eq!(season.count(part, reading.reset_at), reading.shots);
        }
        let id = part.id;
        let shown = scene.read(move |read, club| wear::readings(read, club, id)).await;
        assert_eq!(shown, expected, "{:?}", part.kind);
    }
    let expected = season.due(&scene.rules, &scene.club.zone, now());
    let club = scene.club.clone();
    assert_eq!(scene.read(move |read, _| due::of_club(read, &club, now())).await, expected);
    check_singly(scene, expected).await;
    let id = scene.club.id;
    let looked = scene.read(move |read, _| doctor::ledger(read, id)).await;
    assert_eq!(looked.wrong, []);
    check_accounts(scene, season).await;
}

/// The account of each part adds up to what the season says, now and as it stood halfway.
async fn check_accounts(scene: &Scene, season: &Season) {
    // After everything, and halfway.
    let after = at_hour(100);
    for at in [after, at_hour(17)] {
        let by_then = season.until(at);
        for part in &by_then.parts {
            let (club, id) = (scene.club.clone(), part.id);
            let account = scene.read(move |read, _| account::of_part(read, &club, id, at)).await;
            let mut shown: Vec<Reading> = account.tallies.iter().map(Tally::reading).collect();
            shown.sort_by_key(|reading| reading.clock.as_str());
            assert_eq!(shown, by_then.readings(part), "{:?} at {at}", part.kind);
        }
    }
    for one in season.due(&scene.rules, &scene.club.zone, after) {
        let (club, id) = (scene.club.clone(), one.record.part.id);
        let account = scene.read(move |read, _| account::of_part(read, &club, id, after)).await;
        assert_eq!(account.assessment, one.assessment);
    }
}

/// Judged one by one, each part is what it is in the list.
async fn check_singly(scene: &Scene, expected: Vec<Judged>) {
    let ids: Vec<PartId> = expected.iter().map(|judged| judged.record.part.id).rev().collect();
    let club = scene.club.clone();
    let mut singly = scene.read(move |read, _| due::of_parts(read, &club, &ids, now())).await;
    singly.reverse();
    assert_eq!(singly, expected);
}

#[tokio::test]
async fn a_thousand_logs_sent_twice_while_fittings_change_count_once() {
    let mut runner = runner(1);
    let season = loop {
        let season = seasons(1_000).new_tree(&mut runner).unwrap().current();
        let counted = |part: &&domain::parts::Part| season.readings(part)[0].shots > 10_000;
        if season.stays.len() >= 6 && season.parts.iter().filter(counted).count() >= 4 {
            break season;
        }
    };
    on_both(async |db| {
        let rules = db.scene().await.rules;
        let scene = scene_for(&db, &season, &rules).await;
        let mut new_logs = 0;
        // A hundred transactions at a time, each of its own.
        for some in season.shuffled(2).chunks(100) {
            let mut entering = JoinSet::new();
            for one in some.iter().cloned() {
                let scene = scene.clone();
                entering.spawn(async move {
                    let is_shot = matches!(one, Happening::Shot(_));
                    let written = scene.clone();
                    let new = scene.write(move |tx, _| enter(tx, &written, &one)).await.unwrap();
                    usize::from(is_shot && new)
                });
            }
            new_logs += entering.join_all().await.iter().sum::<usize>();
        }
        assert_eq!(new_logs, 1_000);
        check(&scene, &season).await;
    })
    .await;
}

/// Appends a log and only then lets `meanwhile` begin; commits when that is done, or when it has
/// waited long enough to show that it is made to wait.
async fn append_with_another_at_work(scene: &Scene, bow: BowId, meanwhile: impl Future) {
    let log = shot_log(scene.owner, bow, at_hour(5), 10);
    let (appended, was_appended) = oneshot::channel();
    let (other_is_done, other_done) = mpsc::channel();
    let appending = scene.write(move |tx, club| {
        ledger::append(tx, club, &log)?;
        appended.send(()).unwrap();
        let _waited_for = other_done.recv_timeout(Duration::from_millis(300));
        Ok(())
    });
    let other = async {
        was_appended.await.unwrap();
        meanwhile.await;
        // Nobody listens any more if the other one was made to wait.
        let _late = other_is_done.send(());
    };
    let (kept, ()) = tokio::join!(appending, other);
    kept.unwrap();
}

#[tokio::test]
async fn what_changes_while_a_log_is_being_kept_counts_that_log_too() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("blue").await;
        let string = scene.part(PartKind::Bowstring).await;
        let fitting = scene.fit(string.id, Host::Bow(bow.id), at_hour(0));
        append_with_another_at_work(&scene, bow.id, fitting).await;
        assert_eq!(scene.shots(&string).await, 10, "fitted meanwhile");
        let waxing = scene.maintain(&string, UpkeepTask::Waxed, at_hour(1));
        append_with_another_at_work(&scene, bow.id, waxing).await;
        let since_waxed = Clock::Since(UpkeepTask::Waxed);
        assert_eq!(scene.shots_on(&string, since_waxed).await, 20, "waxed meanwhile");
        assert_eq!(scene.shots(&string).await, 20);
    })
    .await;
}
