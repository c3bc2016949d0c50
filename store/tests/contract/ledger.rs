//! What a log counts for: the parts under its bow at its time, once, whenever it arrives.

use domain::{
    fittings::{FittingError, Host},
    ids::BowId,
    ledger::{Clock, LogKind, ShotLog, Shots},
    parts::{PartKind, Start},
    upkeep::UpkeepTask,
};
use store::{Page, ledger, ledger::Appended, wear};

use crate::{
    invented::{self, at, just_before, note, shot_log, stay},
    support::{Refused, on_both},
};

const WAXED: Clock = Clock::Since(UpkeepTask::Waxed);
const INSPECTED: Clock = Clock::Since(UpkeepTask::Inspected);

#[tokio::test]
async fn a_log_counts_for_the_string_and_the_serving_on_it() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let entry = scene.shoot(&on.bow, at(1), 72).await;
        assert_eq!(entry.appended, Appended::New);
        assert_eq!(entry.parts, [on.string.id, on.serving.id]);
        scene.shoot(&on.bow, at(2), 36).await;
        assert_eq!((scene.shots(&on.string).await, scene.shots(&on.serving).await), (108, 108));
    })
    .await;
}

#[tokio::test]
async fn a_log_sent_again_counts_once_even_if_the_phone_was_set_right_meanwhile() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let log = shot_log(scene.owner, on.bow.id, at(1), 72);
        let first = scene.try_append(log.clone()).await.unwrap();
        assert_eq!(first.appended, Appended::New);
        let mut later = log.clone();
        later.received_at = at(5);
        later.time.at = at(2);
        later.time.skew_s = Some(-86_400);
        let again = scene.try_append(later).await.unwrap();
        assert_eq!(again.appended, Appended::Again(log));
        assert_eq!(again.parts, first.parts);
        assert_eq!(scene.shots(&on.string).await, 72);
    })
    .await;
}

#[tokio::test]
async fn a_taken_id_with_other_content_is_told_apart_and_counts_nothing() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let other_bow = scene.bow("red").await;
        let log = shot_log(scene.owner, on.bow.id, at(1), 72);
        scene.try_append(log.clone()).await.unwrap();
        let changes: [&dyn Fn(&mut ShotLog); 6] = [
            &|log| log.shots = Shots::new(73).unwrap(),
            &|log| log.bow_id = other_bow.id,
            &|log| log.kind = LogKind::Tuning,
            &|log| log.note = note("wind from the left"),
            &|log| log.time.stated = at(2),
            &|log| log.time.date_only = true,
        ];
        for change in changes {
            let mut other = log.clone();
            change(&mut other);
            let entry = scene.try_append(other).await.unwrap();
            assert_eq!(entry.appended, Appended::IdTaken);
        }
        assert_eq!(scene.shots(&on.string).await, 72);
        let id = log.id;
        assert_eq!(scene.read(move |read, club| ledger::get(read, club, id)).await, log);
    })
    .await;
}

#[tokio::test]
async fn a_log_of_an_unknown_bow_or_of_another_clubs_is_not_kept() {
    on_both(async |db| {
        let (scene, other) = (db.scene().await, db.scene().await);
        let theirs = other.bow("theirs").await;
        for bow in [invented::id::<BowId>(), theirs.id] {
            let refused = scene.try_append(shot_log(scene.owner, bow, at(1), 72)).await;
            assert!(refused.unwrap_err().is_not_found());
        }
        let everything = Page { after: None, limit: 10 };
        let kept = scene.read(move |read, club| ledger::list(read, club, None, everything)).await;
        assert_eq!(kept, []);
    })
    .await;
}

#[tokio::test]
async fn a_fitting_counts_from_its_first_instant_until_just_before_its_last() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(10)).await;
        scene.take_off(on.string_on.id, at(20)).await;
        let outside = [just_before(at(10)), at(20)];
        let inside = [at(10), just_before(at(20))];
        for (times, parts) in [(outside, vec![]), (inside, vec![on.string.id, on.serving.id])] {
            for time in times {
                let entry = scene.shoot(&on.bow, time, 10).await;
                assert_eq!(entry.parts, parts, "{time}");
            }
        }
        assert_eq!((scene.shots(&on.string).await, scene.shots(&on.serving).await), (20, 20));
        // The same again when the ledger is summed at once instead of one log after the other.
        scene.maintain(&on.string, UpkeepTask::Inspected, at(0)).await;
        scene.maintain(&on.serving, UpkeepTask::Inspected, at(0)).await;
        assert_eq!((scene.shots(&on.string).await, scene.shots(&on.serving).await), (20, 20));
    })
    .await;
}

#[tokio::test]
async fn a_serving_counts_only_while_it_and_its_string_are_both_on() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("blue").await;
        let string = scene.part(PartKind::Bowstring).await;
        let serving = scene.part(PartKind::CenterServing).await;
        let string_on = scene.fit(string.id, Host::Bow(bow.id), at(10)).await;
        let serving_on = scene.fit(serving.id, Host::Part(string.id), at(5)).await;
        for day in [7, 12, 17, 22] {
            scene.shoot(&bow, at(day), 10).await;
        }
        assert_eq!((scene.shots(&string).await, scene.shots(&serving).await), (30, 30));
        scene.take_off(serving_on.id, at(20)).await;
        assert_eq!((scene.shots(&string).await, scene.shots(&serving).await), (30, 20));
        scene.take_off(string_on.id, at(15)).await;
        assert_eq!((scene.shots(&string).await, scene.shots(&serving).await), (10, 10));
    })
    .await;
}

#[tokio::test]
async fn a_log_on_a_bow_without_a_string_is_kept_and_counts_for_nothing() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("bare").await;
        let string = scene.part(PartKind::Bowstring).await;
        let log = shot_log(scene.owner, bow.id, at(1), 72);
        let entry = scene.try_append(log.clone()).await.unwrap();
        assert_eq!((entry.appended, entry.parts), (Appended::New, vec![]));
        let id = log.id;
        assert_eq!(scene.read(move |read, club| ledger::get(read, club, id)).await, log);
        assert_eq!(scene.shots(&string).await, 0);
    })
    .await;
}

#[tokio::test]
async fn a_used_part_starts_with_its_shots_and_older_logs_add_nothing() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("blue").await;
        let mut string = invented::part(PartKind::Bowstring);
        string.start = Some(Start { shots: 4_000, at: at(10) });
        let string = scene.add_part(string).await;
        assert_eq!(
            (scene.shots(&string).await, scene.shots_on(&string, WAXED).await),
            (4_000, 4_000)
        );
        scene.fit(string.id, Host::Bow(bow.id), at(0)).await;
        for time in [at(9), just_before(at(10)), at(10), at(11)] {
            scene.shoot(&bow, time, 10).await;
        }
        assert_eq!(scene.shots(&string).await, 4_020);
        scene.maintain(&string, UpkeepTask::Waxed, at(5)).await;
        assert_eq!(scene.shots_on(&string, WAXED).await, 4_020, "waxed before its record began");
        scene.maintain(&string, UpkeepTask::Waxed, at(10)).await;
        assert_eq!((scene.shots(&string).await, scene.shots_on(&string, WAXED).await), (4_020, 20));
    })
    .await;
}

#[tokio::test]
async fn upkeep_sets_back_its_own_clock_and_no_other() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        scene.shoot(&on.bow, at(1), 100).await;
        scene.maintain(&on.string, UpkeepTask::Waxed, at(2)).await;
        scene.shoot(&on.bow, just_before(at(2)), 1).await;
        scene.shoot(&on.bow, at(2), 10).await;
        let readings = scene.readings(&on.string).await;
        let shown = readings.iter().map(|reading| (reading.clock, reading.shots, reading.reset_at));
        assert_eq!(
            shown.collect::<Vec<_>>(),
            [
                (Clock::Since(UpkeepTask::BraceHeightSet), 111, None),
                (INSPECTED, 111, None),
                (Clock::Life, 111, None),
                (Clock::Since(UpkeepTask::NockingPointSet), 111, None),
                (WAXED, 10, Some(at(2))),
            ]
        );
        assert_eq!(scene.shots_on(&on.serving, INSPECTED).await, 111);
    })
    .await;
}

#[tokio::test]
async fn upkeep_recorded_late_does_not_take_the_clock_back() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        for day in [1, 3, 5] {
            scene.shoot(&on.bow, at(day), 10).await;
        }
        scene.maintain(&on.string, UpkeepTask::Waxed, at(4)).await;
        scene.maintain(&on.string, UpkeepTask::Waxed, at(2)).await;
        let readings = scene.readings(&on.string).await;
        let waxed = readings.iter().find(|reading| reading.clock == WAXED).unwrap();
        assert_eq!((waxed.shots, waxed.reset_at), (10, Some(at(4))));
    })
    .await;
}

#[tokio::test]
async fn a_log_that_arrives_late_counts_in_the_cycle_in_which_it_was_shot() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        scene.shoot(&on.bow, at(1), 100).await;
        scene.maintain(&on.string, UpkeepTask::Waxed, at(10)).await;
        scene.shoot(&on.bow, at(9), 50).await;
        assert_eq!(
            (scene.shots(&on.string).await, scene.shots_on(&on.string, WAXED).await),
            (150, 0)
        );
        scene.shoot(&on.bow, at(11), 7).await;
        assert_eq!(
            (scene.shots(&on.string).await, scene.shots_on(&on.string, WAXED).await),
            (157, 7)
        );
    })
    .await;
}

#[tokio::test]
async fn a_fitting_entered_late_counts_the_logs_that_are_there_already() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("blue").await;
        for day in [1, 5, 9] {
            scene.shoot(&bow, at(day), 10).await;
        }
        let string = scene.part(PartKind::Bowstring).await;
        let serving = scene.part(PartKind::CenterServing).await;
        scene.fit(serving.id, Host::Part(string.id), at(6)).await;
        assert_eq!((scene.shots(&string).await, scene.shots(&serving).await), (0, 0));
        scene.fit(string.id, Host::Bow(bow.id), at(5)).await;
        assert_eq!((scene.shots(&string).await, scene.shots(&serving).await), (20, 10));
    })
    .await;
}

#[tokio::test]
async fn a_string_taken_off_late_gives_its_shots_back() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        for day in [1, 5, 9] {
            scene.shoot(&on.bow, at(day), 10).await;
        }
        let ended = scene.take_off(on.string_on.id, at(5)).await;
        assert_eq!(ended.to, Some(at(5)));
        assert_eq!((scene.shots(&on.string).await, scene.shots(&on.serving).await), (10, 10));
        let (club, fitting) = (scene.club.id, on.string_on.id);
        let again: Result<_, Refused> =
            scene.write(move |tx, _club| store::fittings::take_off(tx, club, fitting, at(6))).await;
        let Err(Refused::Fitting(why)) = again else { panic!("{again:?}") };
        assert_eq!(why, FittingError::AlreadyOff(at(5)));
    })
    .await;
}

#[tokio::test]
async fn a_string_that_moves_to_another_bow_takes_its_serving_along() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let red = scene.bow("red").await;
        scene.take_off(on.string_on.id, at(10)).await;
        scene.fit(on.string.id, Host::Bow(red.id), at(12)).await;
        for (bow, day) in [(&on.bow, 5), (&on.bow, 11), (&on.bow, 13), (&red, 5), (&red, 13)] {
            scene.shoot(bow, at(day), 10).await;
        }
        assert_eq!((scene.shots(&on.string).await, scene.shots(&on.serving).await), (20, 20));
    })
    .await;
}

#[tokio::test]
async fn a_refused_fitting_changes_no_count() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(10)).await;
        scene.shoot(&on.bow, at(11), 10).await;
        let second = scene.part(PartKind::Bowstring).await;
        let occupied = scene.try_fit(stay(second.id, Host::Bow(on.bow.id), at(5), None)).await;
        let Err(Refused::Fitting(why)) = occupied else { panic!("{occupied:?}") };
        assert_eq!(why, FittingError::HostOccupied { kind: PartKind::Bowstring, from: at(10) });
        let part = second.id;
        assert_eq!(
            scene.read(move |read, club| store::fittings::of_part(read, club, part)).await,
            []
        );
        assert_eq!((scene.shots(&on.string).await, scene.shots(&second).await), (10, 0));
        // Next to it in time there is room.
        scene.try_fit(stay(second.id, Host::Bow(on.bow.id), at(5), Some(at(10)))).await.unwrap();
    })
    .await;
}

#[tokio::test]
async fn logs_are_listed_by_bow_and_page_in_the_order_they_were_entered() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (blue, red) = (scene.bow("blue").await, scene.bow("red").await);
        let mut entered = Vec::new();
        for day in [5, 1, 4, 2, 3] {
            for bow in [&blue, &red] {
                let log = shot_log(scene.owner, bow.id, at(day), day);
                scene.try_append(log.clone()).await.unwrap();
                entered.push(log);
            }
        }
        for bow in [None, Some(blue.id)] {
            let wanted = |log: &ShotLog| bow.is_none_or(|bow| log.bow_id == bow);
            let expected: Vec<_> = entered.iter().filter(|log| wanted(log)).cloned().collect();
            let (mut paged, mut after) = (Vec::new(), None);
            loop {
                let page = Page { after, limit: 3 };
                let only = bow.map(|bow| vec![bow]);
                let next = scene
                    .read(move |read, club| ledger::list(read, club, only.as_deref(), page))
                    .await;
                let Some(last) = next.last() else { break };
                after = Some(last.id.0);
                assert!(next.len() <= 3);
                paged.extend(next);
            }
            assert_eq!(paged, expected);
        }
        let unknown = invented::id();
        assert_eq!(scene.read(move |read, club| wear::readings(read, club, unknown)).await, []);
    })
    .await;
}
