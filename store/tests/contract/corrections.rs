//! Corrections of logs: the last one counts, wherever and whenever it says, as if nothing else had
//! ever been said.

use domain::{
    ids::{BowId, ShotLogId},
    ledger::{Correction, LogKind, ShotLog, Shots},
    upkeep::UpkeepTask,
};
use proptest::{collection::vec, prelude::*, strategy::ValueTree};
use store::{
    Page, StoreError, ledger,
    ledger::{Appended, Corrected},
    testing::both,
};
use tokio::{runtime::Runtime, task::JoinSet};

use crate::{
    any_order::{check, enter, runner, scene_for},
    invented::{self, at, at_hour, note, shot_log},
    season::{Happening, Season, seasons},
    support::{Database, Refused, Scene, on_both},
};

/// What a correction makes of a log: another bow, another time, other shots, or nothing at all.
#[derive(Debug, Clone)]
struct Change {
    log: usize,
    bow: usize,
    hour: i64,
    shots: i64,
    void: bool,
}

fn changes(
    of: usize,
    how_many: impl Into<proptest::collection::SizeRange>,
) -> impl Strategy<Value = Vec<Change>> {
    let one = (0..of, 0..2_usize, 0..48_i64, 1..=2_000_i64, 0..6_u8);
    let change = |(log, bow, hour, shots, void)| Change { log, bow, hour, shots, void: void == 0 };
    vec(one.prop_map(change), how_many)
}

impl Change {
    /// The log that a log becomes.
    fn of(&self, before: &ShotLog, season: &Season) -> ShotLog {
        let (at, shots) = (at_hour(self.hour), Shots::new(self.shots).unwrap());
        let mut log = before.clone();
        (log.bow_id, log.shots) = (season.bows[self.bow].id, shots);
        (log.time.at, log.time.stated) = (at, at);
        log
    }
}

/// The season as it stands after every change, each made in its turn to what was not void by then.
fn corrected(season: &Season, changes: &[Change]) -> Season {
    let mut logs: Vec<Option<ShotLog>> = season.logs.iter().cloned().map(Some).collect();
    for change in changes {
        let Some(log) = logs.get_mut(change.log) else { continue };
        *log = log.take().filter(|_| !change.void).map(|log| change.of(&log, season));
    }
    Season { logs: logs.into_iter().flatten().collect(), ..season.clone() }
}

#[test]
fn corrected_logs_count_as_if_they_had_been_right_at_once() {
    let runtime = Runtime::new().unwrap();
    for fresh in both() {
        let db = Database { store: fresh.open(), fresh };
        runner(32)
            .run(&(seasons(0..20), changes(20, 0..30)), |(season, changes)| {
                runtime.block_on(check_changes(&db, &season, &changes));
                Ok(())
            })
            .unwrap_or_else(|error| panic!("on {}: {error}", db.fresh.url));
    }
}

/// 5,000 logs, each sent twice in an order of chance, and 1,000 corrections among them.
#[test]
fn ten_thousand_entries_late_doubled_and_corrected_are_a_plain_count() {
    let runtime = Runtime::new().unwrap();
    let mut runner = runner(1);
    let (season, changes) = loop {
        let tree = (seasons(5_000), changes(5_000, 1_000)).new_tree(&mut runner).unwrap();
        let (season, changes) = tree.current();
        if season.stays.len() >= 6 && season.works.len() >= 4 {
            break (season, changes);
        }
    };
    for fresh in both() {
        let db = Database { store: fresh.open(), fresh };
        runtime.block_on(async {
            let scene = entered(&db, &season, &changes).await;
            let expected = corrected(&season, &changes);
            check(&scene, &expected).await;
            check_counted_anew(&scene, &expected).await;
        });
    }
}

/// Enters a season in an order of chance, each log twice, and its changes in between: each after what
/// it changes, and otherwise wherever chance puts it.
async fn entered(db: &Database, season: &Season, changes: &[Change]) -> Scene {
    let rules = db.scene().await.rules;
    let scene = scene_for(db, season, &rules).await;
    let (written, entered, made) = (scene.clone(), season.clone(), changes.to_vec());
    let enter_all = move |tx: &mut store::Tx<'_>, club| -> Result<(), Refused> {
        let mut waiting = made.iter().collect::<std::collections::VecDeque<_>>();
        let mut there = std::collections::BTreeSet::new();
        for (n, happening) in entered.shuffled(2).iter().enumerate() {
            enter(tx, &written, happening)?;
            if let Happening::Shot(log) = happening {
                there.insert(log.id);
            }
            let wanted = entered.chance[n % entered.chance.len()] % 3;
            for _ in 0..wanted {
                let Some(change) = waiting.front() else { break };
                let of = entered.logs.get(change.log).map(|log| log.id);
                if of.is_some_and(|id| !there.contains(&id)) {
                    break;
                }
                waiting
                    .pop_front()
                    .map_or(Ok(()), |one| make(tx, club, &written, &entered, one))?;
            }
        }
        waiting.into_iter().try_for_each(|one| make(tx, club, &written, &entered, one))
    };
    scene.write(enter_all).await.unwrap();
    scene
}

async fn check_changes(db: &Database, season: &Season, changes: &[Change]) {
    let scene = entered(db, season, changes).await;
    let expected = corrected(season, changes);
    check(&scene, &expected).await;
    check_listed(&scene, &expected).await;
    check_sent_again(&scene, season, &expected).await;
    check_counted_anew(&scene, &expected).await;
}

fn make(
    tx: &mut store::Tx<'_>,
    club: domain::ids::ClubId,
    scene: &Scene,
    season: &Season,
    change: &Change,
) -> Result<(), Refused> {
    let Some(log) = season.logs.get(change.log) else { return Ok(()) };
    let (before, version) = match ledger::effective(tx, club, log.id) {
        // It is void by now, and stays so.
        Err(StoreError::NotFound { .. }) => return Ok(()),
        found => found?,
    };
    let entered_by = scene.owner;
    let log = ShotLog { id: invented::id(), entered_by, ..change.of(&before, season) };
    let correction =
        Correction { corrects: before.id, version, log, void: change.void, merged_into: None };
    let after = ledger::correct(tx, club, &correction)?;
    assert_eq!(after.version, version + 1);
    assert!(after.parts.iter().all(|part| after.touched.contains(part)));
    Ok(())
}

/// What is listed is what stands, each under the id that it was entered with.
async fn check_listed(scene: &Scene, expected: &Season) {
    let page = Page { after: None, limit: 100 };
    let listed = scene.read(move |read, club| ledger::list(read, club, None, page)).await;
    let short = |log: &ShotLog| (log.id, log.bow_id, log.time.at, log.shots);
    let mut logs: Vec<_> = expected.logs.iter().map(short).collect();
    logs.sort_unstable();
    assert_eq!(listed.iter().map(short).collect::<Vec<_>>(), logs);
}

/// Sent once more as they were, no log is new and none counts.
async fn check_sent_again(scene: &Scene, season: &Season, expected: &Season) {
    for log in &season.logs {
        let again = ShotLog { entered_by: scene.owner, ..log.clone() };
        let appended = scene.try_append(again).await.unwrap().appended;
        match expected.logs.iter().find(|one| one.id == log.id) {
            Some(now) => {
                let now = ShotLog { entered_by: scene.owner, ..now.clone() };
                assert_eq!(appended, Appended::Again(now));
            }
            None => assert!(matches!(appended, Appended::Void(_)), "{appended:?}"),
        }
    }
    check(scene, expected).await;
}

/// Counted anew from the ledger, every clock shows what it showed: work of a kind that no clock counts
/// since makes the store do so.
async fn check_counted_anew(scene: &Scene, expected: &Season) {
    for part in &expected.parts {
        let before = scene.readings(part).await;
        scene.maintain(part, UpkeepTask::Other, at(0)).await;
        assert_eq!(scene.readings(part).await, before);
    }
}

/// A correction of a log that was read in that version.
fn correction(of: &ShotLog, version: i32, change: impl FnOnce(&mut ShotLog)) -> Correction {
    let mut log = of.clone();
    change(&mut log);
    log.id = invented::id();
    Correction { corrects: of.id, version, log, void: false, merged_into: None }
}

impl Scene {
    async fn correct(&self, correction: Correction) -> Result<Corrected, Refused> {
        self.write(move |tx, club| Ok(ledger::correct(tx, club, &correction)?)).await
    }

    async fn log_now(&self, log: ShotLogId) -> Option<(ShotLog, i32)> {
        let found = move |read: &mut store::Read<'_>, club| match ledger::effective(read, club, log)
        {
            Err(StoreError::NotFound { .. }) => Ok(None),
            found => found.map(Some),
        };
        self.read(found).await
    }

    async fn logs_of(&self, bow: BowId) -> Vec<ShotLogId> {
        let page = Page { after: None, limit: 100 };
        let logs = self.read(move |read, club| ledger::list(read, club, Some(&[bow]), page)).await;
        logs.iter().map(|log| log.id).collect()
    }
}

#[tokio::test]
async fn a_log_moved_to_another_bow_counts_there_and_no_longer_here() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (blue, red) =
            (scene.strung_bow("blue", at(0)).await, scene.strung_bow("red", at(0)).await);
        let log = shot_log(scene.owner, blue.bow.id, at(1), 72);
        scene.try_append(log.clone()).await.unwrap();
        let moved = correction(&log, 1, |log| {
            (log.bow_id, log.shots) = (red.bow.id, Shots::new(60).unwrap());
            (log.kind, log.note) = (LogKind::Scoring, note("wrong bow"));
            log.received_at = at(9);
        });
        let corrected = scene.correct(moved.clone()).await.unwrap();
        assert_eq!(corrected.version, 2);
        assert_eq!(corrected.parts, [red.string.id, red.serving.id]);
        let mut touched = [blue.string.id, blue.serving.id, red.string.id, red.serving.id].to_vec();
        touched.sort_unstable();
        assert_eq!(corrected.touched, touched);
        assert_eq!((scene.shots(&blue.string).await, scene.shots(&red.serving).await), (0, 60));
        // It keeps its id, who entered it and when it came; the rest is as corrected.
        let now = ShotLog { id: log.id, received_at: log.received_at, ..moved.log };
        assert_eq!(scene.log_now(log.id).await, Some((now, 2)));
        assert_eq!(scene.logs_of(blue.bow.id).await, []);
        assert_eq!(scene.logs_of(red.bow.id).await, [log.id]);
        let (id, club) = (log.id, scene.club.id);
        assert_eq!(scene.read(move |read, _| ledger::get(read, club, id)).await, log);
    })
    .await;
}

#[tokio::test]
async fn a_void_log_counts_for_nothing_and_cannot_be_corrected_any_more() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let log = shot_log(scene.owner, on.bow.id, at(1), 72);
        scene.try_append(log.clone()).await.unwrap();
        let void = Correction { void: true, ..correction(&log, 1, |_| {}) };
        let corrected = scene.correct(void).await.unwrap();
        assert_eq!((corrected.parts, corrected.touched.len()), (vec![], 2));
        assert_eq!(scene.shots(&on.string).await, 0);
        assert_eq!(scene.log_now(log.id).await, None);
        assert_eq!(scene.logs_of(on.bow.id).await, []);
        for version in [1, 2] {
            let refused = scene.correct(correction(&log, version, |_| {})).await;
            assert!(refused.is_err_and(|error| error.is_not_found()));
        }
        let again = scene.try_append(log.clone()).await.unwrap();
        assert_eq!((again.appended, again.version, again.parts), (Appended::Void(log), 2, vec![]));
        assert_eq!(scene.shots(&on.string).await, 0);
    })
    .await;
}

#[tokio::test]
async fn a_correction_is_no_log_of_its_own() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let log = shot_log(scene.owner, on.bow.id, at(1), 72);
        scene.try_append(log.clone()).await.unwrap();
        let more = correction(&log, 1, |log| log.shots = Shots::new(73).unwrap());
        scene.correct(more.clone()).await.unwrap();
        assert_eq!(scene.log_now(more.log.id).await, None);
        let of_it = correction(&more.log, 1, |_| {});
        assert!(scene.correct(of_it).await.is_err_and(|error| error.is_not_found()));
        assert_eq!(scene.try_append(more.log).await.unwrap().appended, Appended::IdTaken);
        assert_eq!(scene.shots(&on.string).await, 73);
    })
    .await;
}

#[tokio::test]
async fn of_many_corrections_at_once_from_one_version_exactly_one_is_kept() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bows = [scene.strung_bow("blue", at(0)).await, scene.strung_bow("red", at(0)).await];
        let log = shot_log(scene.owner, bows[0].bow.id, at(1), 1);
        scene.try_append(log.clone()).await.unwrap();
        for version in 1..=5 {
            let mut correcting = JoinSet::new();
            for n in 0..12_usize {
                let bow = bows[n % 2].bow.id;
                let shots = Shots::new(i64::try_from(n).unwrap() + 100).unwrap();
                let one = correction(&log, version, |log| (log.bow_id, log.shots) = (bow, shots));
                let scene = scene.clone();
                correcting.spawn(async move {
                    match scene.correct(one.clone()).await {
                        Ok(_) => Some(one.log),
                        Err(Refused::Store(StoreError::Changed)) => None,
                        Err(other) => panic!("{other}"),
                    }
                });
            }
            let kept: Vec<ShotLog> = correcting.join_all().await.into_iter().flatten().collect();
            assert_eq!(kept.len(), 1);
            let (now, present) = scene.log_now(log.id).await.unwrap();
            assert_eq!((now.shots, present), (kept[0].shots, version + 1));
            for on in &bows {
                let shots = if on.bow.id == now.bow_id { i64::from(now.shots.get()) } else { 0 };
                assert_eq!(scene.shots(&on.string).await, shots);
                assert_eq!(scene.shots(&on.serving).await, shots);
            }
        }
    })
    .await;
}

#[tokio::test]
async fn corrections_that_move_logs_both_ways_never_wait_for_each_other_in_a_circle() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bows = [scene.strung_bow("blue", at(0)).await, scene.strung_bow("red", at(0)).await];
        let mut working = JoinSet::new();
        for n in 0..100 {
            let (here, there) = (bows[n % 2].bow.id, bows[(n + 1) % 2].bow.id);
            let scene = scene.clone();
            working.spawn(async move {
                let log = shot_log(scene.owner, here, at(1), 1);
                scene.try_append(log.clone()).await.unwrap();
                let moved = correction(&log, 1, |log| log.bow_id = there);
                scene.correct(moved).await.unwrap();
            });
        }
        working.join_all().await;
        for on in &bows {
            assert_eq!((scene.shots(&on.string).await, scene.shots(&on.serving).await), (50, 50));
        }
    })
    .await;
}

#[tokio::test]
async fn a_page_goes_on_where_it_was_while_logs_are_corrected_and_made_void() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("blue").await;
        let mut ids = Vec::new();
        let mut logs = Vec::new();
        for day in 0..10 {
            let log = shot_log(scene.owner, bow.id, at(day), 5);
            scene.try_append(log.clone()).await.unwrap();
            ids.push(log.id);
            logs.push(log);
        }
        let (mut seen, mut after) = (Vec::new(), None);
        for round in 0.. {
            let (page, bow) = (Page { after, limit: 3 }, bow.id);
            let next =
                scene.read(move |read, club| ledger::list(read, club, Some(&[bow]), page)).await;
            let Some(last) = next.last() else { break };
            after = Some(last.id.0);
            seen.extend(next.iter().map(|log| log.id));
            // One that was seen, one that is next, and one further on that goes.
            for n in [round, 3 * round + 3] {
                let Some(log) = logs.get(n) else { continue };
                let Some((now, version)) = scene.log_now(log.id).await else { continue };
                let later = correction(&now, version, |log| log.time.at = at(20));
                scene.correct(later).await.unwrap();
            }
            if round == 0 {
                let void = Correction { void: true, ..correction(&logs[8], 1, |_| {}) };
                scene.correct(void).await.unwrap();
            }
        }
        ids.remove(8);
        assert_eq!(seen, ids);
    })
    .await;
}
