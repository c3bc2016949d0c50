//! What was shot lately, summed by the club's days.

use domain::{
    clubs::Club,
    forecast::{Pace, PaceError},
    ids::BowId,
    time::Zone,
};
use jiff::{Timestamp, civil::Date, civil::date};
use store::{Tx, clubs, doctor, pace};

use crate::{
    invented::{at, at_hour},
    support::{Scene, on_both},
};

/// Day 0 of the scene.
const TODAY: Date = Date::constant(2027, 3, 1);

impl Scene {
    async fn recent(&self, zone: &str, bows: &[BowId]) -> Vec<(BowId, Vec<(Date, i64)>)> {
        let zone = Zone::parse(zone).unwrap();
        let moved = move |tx: &mut Tx<'_>, club| {
            let club = clubs::get(tx, club)?;
            Ok(clubs::change(tx, &Club { zone, ..club }).map(drop)?)
        };
        self.write(moved).await.unwrap();
        let bows = bows.to_vec();
        self.read(move |read, club| {
            Ok(pace::recent(read, club, &bows, TODAY)?.into_iter().collect())
        })
        .await
    }
}

#[tokio::test]
async fn shots_are_summed_by_local_day_and_bow() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (one, two, idle) =
            (scene.bow("one").await, scene.bow("two").await, scene.bow("idle").await);
        for (hour, shots) in [(-3 * 24, 30), (-3 * 24 + 2, 12), (-24, 60), (0, 9)] {
            scene.shoot(&one, at_hour(hour), shots).await;
        }
        scene.shoot(&two, at(-1), 5).await;
        let found = scene.recent("Europe/Lisbon", &[two.id, one.id, idle.id]).await;
        let of_one = vec![(date(2027, 2, 26), 42), (date(2027, 2, 28), 60), (TODAY, 9)];
        let of_two = vec![(date(2027, 2, 28), 5)];
        assert_eq!(found, [(one.id, of_one), (two.id, of_two.clone())]);
        assert_eq!(scene.recent("Europe/Lisbon", &[two.id]).await, [(two.id, of_two)]);
        assert_eq!(scene.recent("Europe/Lisbon", &[]).await, []);
        // Noon UTC is the next day at UTC+12 or more, and 02:00 is the same.
        let there = scene.recent("Pacific/Kiritimati", &[two.id]).await;
        assert_eq!(there, [(two.id, vec![(date(2027, 3, 1), 5)])]);
    })
    .await;
}

#[tokio::test]
async fn twelve_weeks_are_summed_and_the_first_day_is_told() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("one").await;
        // 84 days before 2027-03-01 are 2026-12-07; its midnight in Lisbon is one in UTC.
        let cutoff: Timestamp = "2026-12-07T00:00:00Z".parse().unwrap();
        scene.shoot(&bow, cutoff, 40).await;
        let found = scene.recent("Europe/Lisbon", &[bow.id]).await;
        assert_eq!(found, [(bow.id, vec![(date(2026, 12, 7), 40)])]);
        scene.shoot(&bow, crate::invented::just_before(cutoff), 7).await;
        let found = scene.recent("Europe/Lisbon", &[bow.id]).await;
        let days = vec![(date(2026, 12, 6), 0), (date(2026, 12, 7), 40)];
        assert_eq!(found, [(bow.id, days)]);
        scene.shoot(&bow, at(-700), 900).await;
        let found = scene.recent("Europe/Lisbon", &[bow.id]).await;
        let days = vec![(date(2025, 3, 31), 0), (date(2026, 12, 7), 40)];
        assert_eq!(found, [(bow.id, days)]);
    })
    .await;
}

#[tokio::test]
async fn a_pace_knows_which_weeks_without_a_shot_are_real() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (old, new, idle) =
            (scene.bow("old").await, scene.bow("new").await, scene.bow("idle").await);
        scene.shoot(&old, at(-400), 900).await;
        for bow in [&old, &new] {
            scene.shoot(bow, at(-13), 120).await;
            scene.shoot(bow, at(-2), 120).await;
        }
        scene.shoot(&idle, at(-400), 900).await;
        let found = scene.recent("Europe/Lisbon", &[old.id, new.id, idle.id]).await;
        let paces: Vec<_> = found.iter().map(|(_, days)| Pace::of(days, TODAY)).collect();
        let mean = |pace: &Result<Pace, PaceError>| pace.map(|pace| pace.mean_shots_per_week);
        // 240 shots in twelve weeks, ten of them empty; and none at all in twelve.
        assert!((mean(&paces[0]).unwrap() - 20.0).abs() < 1e-9, "{paces:?}");
        assert_eq!(paces[1], Err(PaceError::TooShort { weeks: 1 }));
        assert!(mean(&paces[2]).unwrap().abs() < 1e-9, "{paces:?}");
    })
    .await;
}

#[tokio::test]
async fn a_log_that_does_not_count_is_not_summed() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("one").await;
        scene.shoot(&bow, at(-300), 50).await;
        scene.shoot(&bow, at(-5), 50).await;
        scene.shoot(&bow, at(-4), 70).await;
        // What a correction leaves behind of the logs it is of.
        let off = if matches!(db.fresh.url, store::DatabaseUrl::Sqlite(_)) { "0" } else { "false" };
        db.fresh.execute(&format!("UPDATE shot_logs SET counts = {off} WHERE shots = 50"));
        scene.write(|tx, club| Ok(doctor::mend(tx, club)?)).await.unwrap();
        let found = scene.recent("Europe/Lisbon", &[bow.id]).await;
        assert_eq!(found, [(bow.id, vec![(date(2027, 2, 25), 70)])]);
    })
    .await;
}
