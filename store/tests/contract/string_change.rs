//! A string change: all of it or nothing.

use domain::{
    ids::BowId,
    parts::{End, Part, PartKind, Retirement},
    string_change::{NewString, Setting, StringChange},
    text::Note,
    upkeep::UpkeepTask,
};
use store::{fittings, parts, string_change, string_change::Changed, upkeep};

use crate::{
    invented::{self, at, name},
    support::{Refused, Scene, on_both},
};

fn change(scene: &Scene, day: i64, new: NewString) -> StringChange {
    StringChange {
        at: at(day),
        new,
        old_end: None,
        servings: Vec::new(),
        settings: Vec::new(),
        entered_by: scene.owner,
        received_at: at(day),
    }
}

async fn try_change(scene: &Scene, bow: BowId, change: &StringChange) -> Result<Changed, Refused> {
    let change = change.clone();
    scene.write(move |tx, club| string_change::change(tx, club, bow, &change)).await
}

/// The tasks on record of a part, with what was measured.
async fn works(scene: &Scene, part: &Part) -> Vec<(UpkeepTask, Option<f64>)> {
    let part = part.id;
    let works = scene.read(move |read, club| upkeep::of_part(read, club, part)).await;
    works.iter().map(|work| (work.task, work.measured_mm)).collect()
}

#[tokio::test]
async fn the_old_string_comes_off_and_the_new_one_is_on_with_its_servings_and_settings() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(0)).await;
        scene.shoot(&on.bow, at(1), 100).await;
        scene.shoot(&on.bow, at(6), 10).await;
        let (new, serving) =
            (invented::part(PartKind::Bowstring), invented::part(PartKind::CenterServing));
        let setting = |task, mm| Setting { task, measured_mm: mm, note: Note::default() };
        let reason = name("limit reached");
        let planned = StringChange {
            old_end: Some(Retirement { at: at(5), end: End::ByPolicy, reason }),
            servings: vec![serving.clone()],
            settings: vec![
                setting(UpkeepTask::NockingPointSet, Some(3.0)),
                setting(UpkeepTask::BraceHeightSet, Some(222.5)),
            ],
            ..change(&scene, 5, NewString::Made(new.clone()))
        };
        let changed = try_change(&scene, on.bow.id, &planned).await.unwrap();
        let expected = Changed { old: Some(on.string.id), new: new.id, servings: vec![serving.id] };
        assert_eq!(changed, expected);
        // The log of the sixth day, entered before, counts for what was on by then.
        assert_eq!((scene.shots(&on.string).await, scene.shots(&new).await), (100, 10));
        assert_eq!((scene.shots(&on.serving).await, scene.shots(&serving).await), (100, 10));
        let id = on.string.id;
        let old = scene.read(move |read, club| parts::get(read, club, id)).await;
        assert_eq!(old.retirement.map(|end| (end.at, end.end)), Some((at(5), End::ByPolicy)));
        assert_eq!(works(&scene, &on.string).await, [(UpkeepTask::Replaced, None)]);
        let mut set = works(&scene, &new).await;
        set.sort_by_key(|(task, _)| *task);
        let nocking = (UpkeepTask::NockingPointSet, Some(3.0));
        assert_eq!(set, [nocking, (UpkeepTask::BraceHeightSet, Some(222.5))]);
        let bow = on.bow.id;
        let under = scene.read(move |read, club| fittings::under_bow(read, club, bow, at(6))).await;
        assert_eq!(under, [new.id, serving.id]);
        let stays = scene.read(move |read, club| fittings::of_bow(read, club, bow)).await;
        let ends: Vec<_> = stays.iter().map(|stay| (stay.part_id, stay.to)).collect();
        assert_eq!(ends, [(on.string.id, Some(at(5))), (new.id, None)]);
    })
    .await;
}

#[tokio::test]
async fn a_first_string_goes_on_and_one_that_is_kept_can_go_back() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("blue").await;
        let (first, second) =
            (scene.part(PartKind::Bowstring).await, scene.part(PartKind::Bowstring).await);
        for (day, new, old) in
            [(1, &first, None), (2, &second, Some(&first)), (3, &first, Some(&second))]
        {
            let planned = change(&scene, day, NewString::Known(new.id));
            let changed = try_change(&scene, bow.id, &planned).await.unwrap();
            assert_eq!((changed.old, changed.new), (old.map(|part| part.id), new.id));
        }
    })
    .await;
}

#[tokio::test]
async fn what_cannot_be_leaves_everything_as_it_was() {
    on_both(async |db| {
        let scene = db.scene().await;
        let on = scene.strung_bow("blue", at(5)).await;
        let red = scene.strung_bow("red", at(0)).await;
        let cams = scene.part(PartKind::Cams).await;
        let bow = on.bow.id;
        let stays = move |read: &mut store::Read<'_>, club| fittings::of_bow(read, club, bow);
        let before = scene.read(stays).await;
        let made = || NewString::Made(invented::part(PartKind::Bowstring));
        let known = |part: &Part| NewString::Known(part.id);
        let with_end = |day, new| {
            let reason = name("frayed");
            let old_end = Some(Retirement { at: at(day), end: End::Worn, reason });
            StringChange { old_end, ..change(&scene, day, new) }
        };
        // The second serving of a kind has no room: all that went before it is taken back.
        let serving = || invented::part(PartKind::CenterServing);
        let crowded = StringChange { servings: vec![serving(), serving()], ..with_end(6, made()) };
        let refused: [(StringChange, &str); 6] = [
            (with_end(5, made()), "BeforeFitted"),
            (change(&scene, 4, made()), "BeforeFitted"),
            (change(&scene, 6, known(&cams)), "NotAString"),
            (change(&scene, 6, known(&on.string)), "PartElsewhere"),
            (change(&scene, 6, known(&red.string)), "PartElsewhere"),
            (crowded, "HostOccupied"),
        ];
        for (planned, why) in refused {
            let error = try_change(&scene, bow, &planned).await.unwrap_err();
            assert!(format!("{error:?}").contains(why), "{error:?}");
            assert_eq!(scene.read(stays).await, before, "{why}");
            assert_eq!(works(&scene, &on.string).await, [], "{why}");
        }
        let bare = scene.bow("bare").await;
        let nothing_there = try_change(&scene, bare.id, &with_end(6, made())).await;
        assert!(nothing_there.is_err());
    })
    .await;
}
