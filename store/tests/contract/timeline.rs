//! What a timeline holds, gathered from everything that is on record.

use domain::{
    incidents::IncidentKind,
    parts::{End, Retirement},
    timeline::{Entry, What},
    upkeep::{Finding, Grade, UpkeepTask},
};
use store::{parts, timeline};

use crate::{
    invented::{at, at_hour, found, name, work},
    support::{Refused, Scene, Strung, on_both},
};

/// The kinds of the entries, each with its day since the first, and of shots their sums.
fn kinds(entries: &[Entry]) -> Vec<String> {
    let day = |one: &Entry| (one.at.as_second() - at(0).as_second()).div_euclid(86_400);
    let line = |one: &Entry| match one.what {
        What::Shots(of) => {
            format!("{} shots {} in {}, {} by then", day(one), of.shots, of.logs, of.by_then)
        }
        _ => format!("{} {}", day(one), one.what.kind()),
    };
    entries.iter().map(line).collect()
}

async fn of_part(scene: &Scene, part: domain::ids::PartId) -> timeline::Timeline {
    let club = scene.club.clone();
    scene.read(move |read, _| timeline::of_part(read, &club, part)).await
}

async fn of_bow(scene: &Scene, bow: domain::ids::BowId) -> timeline::Timeline {
    let club = scene.club.clone();
    scene.read(move |read, _| timeline::of_bow(read, &club, bow)).await
}

/// A bow that was shot, dry fired, and taken apart.
async fn a_short_life(scene: &Scene) -> Strung {
    let on = scene.strung_bow("blue", at(0)).await;
    for (at, shots) in [(at_hour(24), 30), (at_hour(25), 12), (at_hour(49), 6)] {
        scene.shoot(&on.bow, at, shots).await;
    }
    scene.maintain(&on.string, UpkeepTask::Waxed, at(3)).await;
    let look = work(scene.owner, on.serving.id, UpkeepTask::Inspected, at(4));
    scene.record(&on.serving, found(look, Finding::FlatServing, Grade::Unsafe)).await;
    scene.happened(&on.bow, IncidentKind::Soaked, at(5)).await;
    scene.happened(&on.bow, IncidentKind::DryFire, at(6)).await;
    scene.clear(&on.bow, at(7)).await;
    let end = Retirement { at: at(8), end: End::Worn, reason: name("fuzzy") };
    let string = on.string.clone();
    scene
        .write(move |tx, club| parts::retire::<Refused>(tx, club, string, end).map(drop))
        .await
        .unwrap();
    on
}

#[tokio::test]
async fn a_part_shows_its_life_and_a_bow_what_was_on_it() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = a_short_life(&scene).await;
        let string = of_part(&scene, on.string.id).await;
        let shots = ["1 shots 42 in 2, 42 by then", "2 shots 6 in 1, 48 by then"];
        let of_string: Vec<&str> = ["0 fitted"]
            .into_iter()
            .chain(shots)
            .chain([
                "3 upkeep",
                "5 incident",
                "6 incident",
                "6 stopped",
                "8 taken_off",
                "8 retired",
            ])
            .collect();
        assert_eq!(kinds(&string.entries), of_string);
        assert_eq!(string.names.bows[&on.bow.id].as_str(), "blue");
        let serving = of_part(&scene, on.serving.id).await;
        let of_serving: Vec<&str> = ["0 fitted"]
            .into_iter()
            .chain(shots)
            .chain(["4 inspection", "4 stopped", "5 incident", "6 incident", "6 stopped"])
            .collect();
        assert_eq!(kinds(&serving.entries), of_serving);
        assert!(serving.names.parts.contains_key(&on.string.id));
        let bow = of_bow(&scene, on.bow.id).await;
        let of_bow: Vec<&str> = ["0 fitted"]
            .into_iter()
            .chain(shots)
            .chain(["5 incident", "6 incident", "6 stopped", "7 clearance", "7 lifted"])
            .chain(["8 taken_off"])
            .collect();
        assert_eq!(kinds(&bow.entries), of_bow);
        assert!(bow.names.parts.contains_key(&on.string.id));
    })
    .await;
}

#[tokio::test]
async fn shots_by_the_end_of_the_last_day_are_the_parts_wear() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = a_short_life(&scene).await;
        for part in [&on.string, &on.serving] {
            let found = of_part(&scene, part.id).await;
            let last = found.entries.iter().rev().find_map(|one| match one.what {
                What::Shots(day) => Some(day.by_then),
                _ => None,
            });
            assert_eq!(last, Some(scene.shots(part).await));
        }
    })
    .await;
}
