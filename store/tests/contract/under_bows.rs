//! What hangs under the bows that are wanted: the same parts, judged the same, as in the list of the
//! whole club, and a bow without parts too.

use store::due::{self, UnderBow};

use crate::{
    invented::{at, at_hour},
    support::{Scene, on_both},
};

async fn under(scene: &Scene, wanted: &'static [&'static str]) -> Vec<UnderBow> {
    let club = scene.club.clone();
    let wanted = move |bow: &domain::bows::Bow| wanted.contains(&bow.name.as_str());
    scene.read(move |read, _| due::under_bows(read, &club, at(3), wanted)).await
}

#[tokio::test]
async fn every_bow_that_is_wanted_has_its_parts_and_no_other() {
    on_both(async |db| {
        let scene = db.scene().await;
        let blue = scene.strung_bow("blue", at(0)).await;
        let red = scene.strung_bow("red", at(0)).await;
        let bare = scene.bow("bare").await;
        scene.shoot(&red.bow, at(1), 900).await;
        // What was taken off, or lies in the case, is under no bow.
        let off = scene.strung_bow("off", at(0)).await;
        scene.take_off(off.string_on.id, at_hour(24)).await;
        scene.part(domain::parts::PartKind::Bowstring).await;

        let found = under(&scene, &["blue", "red", "bare", "off"]).await;
        let ids = |rows: &[UnderBow]| rows.iter().map(|row| row.bow.id).collect::<Vec<_>>();
        assert_eq!(ids(&found), [blue.bow.id, red.bow.id, bare.id, off.bow.id]);
        let counts: Vec<usize> = found.iter().map(|row| row.parts.len()).collect();
        assert_eq!(counts, [2, 2, 0, 0]);
        let club = scene.club.clone();
        let all = scene.read(move |read, _| due::of_club(read, &club, at(3))).await;
        for row in &found {
            let theirs = all.iter().filter(|one| one.bow.as_ref() == Some(&row.bow)).cloned();
            assert_eq!(row.parts, theirs.collect::<Vec<_>>(), "{}", row.bow.name);
        }
        assert_eq!(ids(&under(&scene, &["red"]).await), [red.bow.id]);
        assert_eq!(under(&scene, &[]).await, []);
    })
    .await;
}
