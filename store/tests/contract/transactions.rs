//! A write is kept whole or not at all, and what fails harms nobody else; a read is one snapshot.

use std::{
    pin::{Pin, pin},
    sync::mpsc,
    task::{Context, Waker},
};

use domain::{bows::Bow, ids::ClubId, upkeep::UpkeepTask};
use store::{DatabaseUrl, Store, StoreError, Tx, bows, ledger, testing::sqlite};
use tokio::{sync::oneshot, task::JoinSet};

use crate::{
    invented::{self, at, at_hour, shot_log},
    support::{Database, Refused, Scene, on, on_both},
};

/// The names of a club's bows.
async fn names(scene: &Scene) -> Vec<String> {
    let bows = scene.read(bows::all).await;
    bows.iter().map(|bow| bow.name.to_string()).collect()
}

fn add(tx: &mut Tx<'_>, club: ClubId, called: &str) -> Result<Bow, StoreError> {
    let bow = invented::bow(called);
    bows::add(tx, club, &bow).map(|()| bow)
}

#[tokio::test]
async fn an_error_keeps_nothing_and_comes_back_as_it_is() {
    on_both(async |db| {
        let scene = db.scene().await;
        let refused: Result<(), Refused> = scene
            .write(|tx, club| {
                add(tx, club, "never")?;
                Err(StoreError::NotFound { what: "arrow" }.into())
            })
            .await;
        let Err(Refused::Store(StoreError::NotFound { what })) = refused else {
            panic!("{refused:?}")
        };
        assert_eq!(what, "arrow");
        scene.bow("kept").await;
        assert_eq!(names(&scene).await, ["kept"]);
    })
    .await;
}

#[tokio::test]
async fn a_panic_keeps_nothing_and_the_next_write_works() {
    on_both(async |db| {
        let scene = db.scene().await;
        // More often than there are connections: none may be lost to it.
        for _ in 0..20 {
            let refused: Result<(), Refused> = scene
                .write(|tx, club| {
                    add(tx, club, "never")?;
                    panic!("on purpose")
                })
                .await;
            let words = refused.unwrap_err().to_string();
            assert!(words.contains("panicked"), "{words}");
        }
        scene.bow("kept").await;
        assert_eq!(names(&scene).await, ["kept"]);
    })
    .await;
}

#[tokio::test]
async fn a_panic_in_a_read_leaves_the_next_read_working() {
    on_both(async |db| {
        let scene = db.scene().await;
        scene.bow("kept").await;
        for _ in 0..20 {
            let club = scene.club.id;
            let refused: Result<(), StoreError> = db
                .store
                .read(move |read| {
                    bows::all(read, club)?;
                    panic!("on purpose")
                })
                .await;
            assert!(refused.unwrap_err().to_string().contains("panicked"));
        }
        assert_eq!(names(&scene).await, ["kept"]);
    })
    .await;
}

#[tokio::test]
async fn a_statement_that_failed_and_was_passed_over_never_ends_in_half_a_write() {
    on_both(async |db| {
        let scene = db.scene().await;
        let answer = scene
            .write(|tx, club| {
                let bow = add(tx, club, "before")?;
                assert!(bows::add(tx, club, &bow).is_err());
                let _passed_over = add(tx, club, "after");
                Ok(())
            })
            .await;
        let expected: &[&str] = if answer.is_ok() { &["before", "after"] } else { &[] };
        assert_eq!(names(&scene).await, expected, "{answer:?}");
        scene.bow("next").await;
        assert_eq!(names(&scene).await.last().map(String::as_str), Some("next"));
    })
    .await;
}

#[tokio::test]
async fn a_snapshot_does_not_see_what_is_written_meanwhile() {
    on_both(async |db| {
        let scene = db.scene().await;
        scene.bow("before").await;
        let (looked, has_looked) = oneshot::channel();
        let (go_on, may_go_on) = mpsc::channel();
        let reading = scene.read(move |read, club| {
            let first = bows::all(read, club)?;
            looked.send(()).unwrap();
            may_go_on.recv().unwrap();
            Ok((first, bows::all(read, club)?))
        });
        let writing = async {
            has_looked.await.unwrap();
            scene.bow("meanwhile").await;
            go_on.send(()).unwrap();
        };
        let ((first, second), ()) = tokio::join!(reading, writing);
        assert_eq!((first.len(), &second), (1, &first));
        assert_eq!(names(&scene).await, ["before", "meanwhile"]);
    })
    .await;
}

#[tokio::test]
async fn a_write_sees_what_it_has_written_itself() {
    on_both(async |db| {
        let scene = db.scene().await;
        let seen = scene
            .write(|tx, club| {
                let bow = add(tx, club, "mine")?;
                Ok((bows::get(tx, club, bow.id)?, bow))
            })
            .await
            .unwrap();
        assert_eq!(seen.0, seen.1);
    })
    .await;
}

#[tokio::test]
async fn many_writes_at_once_are_all_kept() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bows = [scene.strung_bow("blue", at(0)).await, scene.strung_bow("red", at(0)).await];
        let mut writing = JoinSet::new();
        for n in 0..200_i64 {
            let log =
                shot_log(scene.owner, bows[usize::from(n % 2 != 0)].bow.id, at_hour(n), n + 1);
            let scene = scene.clone();
            writing.spawn(async move { scene.try_append(log).await.unwrap().appended });
        }
        let appended = writing.join_all().await;
        assert_eq!(appended, vec![ledger::Appended::New; 200]);
        // 1 + 3 + … + 199 = 100², and 2 + 4 + … + 200 = 100 · 101.
        for (on, shots) in bows.iter().zip([10_000, 10_100]) {
            assert_eq!(scene.shots(&on.string).await, shots);
            assert_eq!(scene.shots(&on.serving).await, shots);
        }
        let reopened = Store::open(db.store.url()).unwrap();
        let scene = Scene { store: reopened, ..scene };
        assert_eq!(scene.shots(&bows[0].string).await, 10_000);
    })
    .await;
}

#[tokio::test]
async fn logs_of_one_bow_never_wait_for_each_other_in_a_circle() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        // Clocks that begin at several times, so that each log moves others of them on; and a
        // planner that knows how small the tables are and reads them as the rows lie.
        scene.maintain(&on.string, UpkeepTask::Waxed, at(5)).await;
        scene.maintain(&on.string, UpkeepTask::Inspected, at(9)).await;
        db.fresh.execute("ANALYZE");
        let mut writing = JoinSet::new();
        for n in 0..400 {
            let log = shot_log(scene.owner, on.bow.id, at([1, 7, 11][n % 3]), 1);
            let scene = scene.clone();
            writing.spawn(async move { scene.try_append(log).await.unwrap().appended });
        }
        assert_eq!(writing.join_all().await, vec![ledger::Appended::New; 400]);
        assert_eq!(scene.shots(&on.serving).await, 400);
    })
    .await;
}

#[tokio::test]
async fn batches_that_name_the_same_bows_in_opposite_order_are_all_kept() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bows = [scene.strung_bow("blue", at(0)).await, scene.strung_bow("red", at(0)).await];
        let mut writing = JoinSet::new();
        for n in 0..40 {
            let mut logs: Vec<_> =
                (0..20).map(|k| shot_log(scene.owner, bows[k % 2].bow.id, at_hour(1), 1)).collect();
            if n % 2 == 0 {
                logs.reverse();
            }
            let scene = scene.clone();
            writing.spawn(async move {
                let batch = scene.write(move |tx, club| Ok(ledger::append_all(tx, club, &logs)?));
                assert_eq!(batch.await.unwrap().len(), 20);
            });
        }
        writing.join_all().await;
        for on in &bows {
            assert_eq!(scene.shots(&on.string).await, 400);
        }
    })
    .await;
}

type Writing<'s> = Pin<Box<dyn Future<Output = Result<(), StoreError>> + 's>>;

/// Holds SQLite's writer while it queues work, and lets it go when that is done.
async fn behind_the_writer<'s>(store: &'s Store, work: Vec<Writing<'s>>) -> Vec<Writing<'s>> {
    let (let_go, may_go) = mpsc::channel::<()>();
    let (began, has_begun) = oneshot::channel();
    let mut blocker = pin!(store.write(move |_tx| {
        began.send(()).unwrap();
        may_go.recv().unwrap();
        Ok::<(), StoreError>(())
    }));
    let mut noone = Context::from_waker(Waker::noop());
    assert!(blocker.as_mut().poll(&mut noone).is_pending());
    has_begun.await.unwrap();
    let mut queued = work;
    for writing in &mut queued {
        // Its first step puts it in the queue; an answer can only be that the queue is full.
        if let std::task::Poll::Ready(answer) = writing.as_mut().poll(&mut noone) {
            *writing = Box::pin(std::future::ready(answer));
        }
    }
    let_go.send(()).unwrap();
    blocker.await.unwrap();
    queued
}

fn writing(
    scene: &Scene,
    f: impl FnOnce(&mut Tx<'_>, ClubId) -> Result<(), StoreError> + Send + 'static,
) -> Writing<'_> {
    let club = scene.club.id;
    Box::pin(scene.store.write(move |tx| f(tx, club)))
}

fn adding<'s>(scene: &'s Scene, called: &'static str) -> Writing<'s> {
    writing(scene, move |tx, club| add(tx, club, called).map(drop))
}

#[tokio::test]
async fn what_fails_harms_no_other_work_of_the_same_commit() {
    on(sqlite(), &async |db: Database| {
        let scene = db.scene().await;
        let work = vec![
            adding(&scene, "first"),
            writing(&scene, |tx, club| {
                add(tx, club, "panicked")?;
                panic!("on purpose")
            }),
            adding(&scene, "second"),
            writing(&scene, |tx, club| {
                add(tx, club, "refused")?;
                Err(StoreError::Busy)
            }),
            writing(&scene, |tx, club| {
                let bow = add(tx, club, "twice")?;
                bows::add(tx, club, &bow)
            }),
            adding(&scene, "third"),
        ];
        let before = commits(&db);
        let mut kept = Vec::new();
        for writing in behind_the_writer(&scene.store, work).await {
            kept.push(writing.await.is_ok());
        }
        assert_eq!(kept, [true, false, true, false, false, true]);
        assert_eq!(names(&scene).await, ["first", "second", "third"]);
        assert_eq!(commits(&db) - before, 1, "they did not share a commit");
    })
    .await;
}

#[tokio::test]
async fn writes_that_wait_share_commits() {
    on(sqlite(), &async |db: Database| {
        let scene = db.scene().await;
        let before = commits(&db);
        let work = (0..200).map(|_| adding(&scene, "bow")).collect();
        for writing in behind_the_writer(&scene.store, work).await {
            writing.await.unwrap();
        }
        assert_eq!(names(&scene).await.len(), 200);
        let commits = commits(&db) - before;
        assert!((1..=20).contains(&commits), "{commits} commits for 200 writes");
    })
    .await;
}

#[tokio::test]
async fn a_write_that_finds_the_queue_full_is_told_so_and_the_queue_is_kept() {
    on(sqlite(), &async |db: Database| {
        let scene = db.scene().await;
        let work = (0..1_200).map(|_| adding(&scene, "bow")).collect();
        let (mut kept, mut busy) = (0, 0);
        for writing in behind_the_writer(&scene.store, work).await {
            match writing.await {
                Ok(()) => kept += 1,
                Err(StoreError::Busy) => busy += 1,
                Err(error) => panic!("{error}"),
            }
        }
        assert!(kept >= 1_000 && busy > 0, "{kept} kept, {busy} refused");
        assert_eq!(names(&scene).await.len(), kept);
        scene.bow("next").await;
    })
    .await;
}

/// How many commits the write-ahead log of a SQLite database holds: frames that carry the size of
/// the database after a commit, in the log's present generation (<https://www.sqlite.org/walformat.html>).
fn commits(db: &Database) -> usize {
    let DatabaseUrl::Sqlite(path) = &db.fresh.url else { panic!("{}", db.fresh.url) };
    let log = std::fs::read(format!("{path}-wal")).unwrap();
    let (header, frames) = log.split_at(32);
    let page = u32::from_be_bytes(header[8..12].try_into().unwrap()) as usize;
    let salts = &header[16..24];
    frames.chunks(24 + page).filter(|f| f[8..16] == *salts && f[4..8] != [0; 4]).count()
}
