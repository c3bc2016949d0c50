//! A bow that must not be shot, whatever hangs on it, and what lifts that.

use domain::{
    bows::Bow,
    fittings::Host,
    incidents::IncidentKind,
    parts::PartKind,
    rules::{Stop, StopCause},
    upkeep::{Upkeep, UpkeepTask},
};
use jiff::Timestamp;
use store::{bow_clearances, due};

use crate::{
    invented::{at, at_hour, just_before, note, work},
    support::{Scene, on_both},
};

/// Why a bow must not be shot.
async fn stop(scene: &Scene, bow: &Bow) -> Option<Stop> {
    scene.bow_stops(&[bow.id]).await[0].map(|stop| stop.stop)
}

const fn happened(kind: IncidentKind, at: Timestamp) -> Stop {
    Stop { at, cause: StopCause::Incident(kind) }
}

#[tokio::test]
async fn a_bow_with_nothing_on_it_is_stopped_until_it_was_cleared_at_that_time_or_later() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (bare, other) = (scene.bow("bare").await, scene.bow("other").await);
        scene.happened(&bare, IncidentKind::Soaked, at(1)).await;
        assert_eq!(stop(&scene, &bare).await, None);
        scene.happened(&bare, IncidentKind::LimbDamage, at(5)).await;
        let damaged = Some(happened(IncidentKind::LimbDamage, at(5)));
        assert_eq!(stop(&scene, &bare).await, damaged);
        assert_eq!(stop(&scene, &other).await, None);
        scene.clear(&bare, just_before(at(5))).await;
        scene.clear(&other, at(9)).await;
        assert_eq!(stop(&scene, &bare).await, damaged);
        scene.clear(&bare, at(5)).await;
        assert_eq!(stop(&scene, &bare).await, None);
        // Entered last though it happened first: the bow was cleared since.
        scene.happened(&bare, IncidentKind::DryFire, at(3)).await;
        assert_eq!(stop(&scene, &bare).await, None);
        scene.happened(&bare, IncidentKind::DryFire, at(7)).await;
        assert_eq!(stop(&scene, &bare).await, Some(happened(IncidentKind::DryFire, at(7))));
    })
    .await;
}

#[tokio::test]
async fn a_part_that_was_under_the_bow_clears_it_and_one_in_the_case_does_not() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        scene.happened(&on.bow, IncidentKind::DryFire, at(5)).await;
        scene.take_off(on.string_on.id, at(6)).await;
        let dry_fire = Some(happened(IncidentKind::DryFire, at(5)));
        assert_eq!(stop(&scene, &on.bow).await, dry_fire, "nothing hangs on it any more");
        let look = |at| {
            let look = work(scene.owner, on.string.id, UpkeepTask::Inspected, at);
            Upkeep { note: note("no damage"), ..look }.judged_by(true)
        };
        scene.record(&on.string, look(at(7))).await;
        assert_eq!(stop(&scene, &on.bow).await, dry_fire, "it was looked at in its case");
        assert_eq!(scene.stops(&[on.string.id, on.serving.id]).await, [None, dry_fire]);
        scene.record(&on.string, look(at_hour(6 * 24 - 1))).await;
        assert_eq!(stop(&scene, &on.bow).await, None);
    })
    .await;
}

#[tokio::test]
async fn a_clearance_of_the_bow_spares_what_comes_later_and_not_what_was_there() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        scene.happened(&on.bow, IncidentKind::StrandCut, at(5)).await;
        scene.take_off(on.string_on.id, at(6)).await;
        let (before, after) =
            (scene.part(PartKind::Bowstring).await, scene.part(PartKind::Bowstring).await);
        let before_on = scene.fit(before.id, Host::Bow(on.bow.id), at(6)).await;
        scene.take_off(before_on.id, at(10)).await;
        scene.fit(after.id, Host::Bow(on.bow.id), at(10)).await;
        let cut = Some(happened(IncidentKind::StrandCut, at(5)));
        let strings = [on.string.id, before.id, after.id];
        assert_eq!(scene.stops(&strings).await, [cut; 3]);
        scene.clear(&on.bow, at(8)).await;
        assert_eq!(scene.stops(&strings).await, [cut, cut, None]);
        assert_eq!(stop(&scene, &on.bow).await, None);
    })
    .await;
}

#[tokio::test]
async fn a_bow_is_listed_with_its_stop_with_parts_and_without() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let bare = scene.bow("bare").await;
        scene.happened(&bare, IncidentKind::DryFire, at(2)).await;
        let club = scene.club.clone();
        let rows = scene.read(move |read, _| due::under_bows(read, &club, at(3), |_| true)).await;
        let stops: Vec<_> = rows.iter().map(|row| (row.bow.id, row.stop.map(|s| s.stop))).collect();
        let dry_fire = Some(happened(IncidentKind::DryFire, at(2)));
        assert_eq!(stops, [(on.bow.id, None), (bare.id, dry_fire)]);
    })
    .await;
}

#[tokio::test]
async fn a_clearance_is_read_back_as_it_was_written_oldest_first() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("blue").await;
        for day in [4, 2] {
            scene.clear(&bow, at(day)).await;
        }
        let id = bow.id;
        let found = scene.read(move |read, club| bow_clearances::of_bow(read, club, id)).await;
        let seen: Vec<_> = found.iter().map(|one| (one.bow_id, one.at, one.entered_by)).collect();
        assert_eq!(seen, [(id, at(2), scene.owner), (id, at(4), scene.owner)]);
        assert_eq!(found[0].reason, note("limbs, tips and string looked over"));
    })
    .await;
}

#[tokio::test]
async fn an_upgrade_finds_the_bows_that_must_not_be_shot() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        let (bare, cleared) = (scene.bow("bare").await, scene.bow("cleared").await);
        let string = scene.part(PartKind::Bowstring).await;
        scene.fit(string.id, Host::Bow(cleared.id), at(0)).await;
        for bow in [&on.bow, &bare, &cleared] {
            scene.happened(bow, IncidentKind::DryFire, at(5)).await;
        }
        let look = work(scene.owner, string.id, UpkeepTask::Inspected, at(6));
        scene.record(&string, Upkeep { note: note("fit"), ..look }.judged_by(true)).await;
        let bows = [on.bow.id, bare.id, cleared.id];
        let before = scene.bow_stops(&bows).await;
        assert_eq!(before.iter().flatten().count(), 2);
        // As a release left them that knew no stops of bows.
        db.fresh.execute("DELETE FROM bow_stops");
        assert_eq!(scene.bow_stops(&bows).await, [None; 3]);
        db.fresh.upgrade();
        assert_eq!(scene.bow_stops(&bows).await, before);
        assert_eq!(
            scene.stops(&[on.string.id]).await,
            [Some(happened(IncidentKind::DryFire, at(5)))]
        );
    })
    .await;
}
