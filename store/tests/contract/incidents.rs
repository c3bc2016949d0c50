//! Incidents: read back as they were written, by club and by bow, page after page.

use domain::incidents::{Incident, IncidentKind};
use store::{Page, incidents};

use crate::{
    invented::{at, incident},
    support::{Scene, on_both},
};

async fn list(scene: &Scene, bow: Option<domain::ids::BowId>, page: Page) -> Vec<Incident> {
    scene.read(move |read, club| incidents::list(read, club, bow, page)).await
}

#[tokio::test]
async fn incidents_of_every_kind_are_read_back_by_club_and_by_bow() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (blue, red) = (scene.bow("blue").await, scene.bow("red").await);
        let mut written = Vec::new();
        for (day, &kind) in (0..).zip(IncidentKind::ALL) {
            for bow in [&blue, &red] {
                // Entered in the reverse of the order in which they happened.
                let one = incident(scene.owner, bow.id, kind, at(-day));
                let added = one.clone();
                scene.write(move |tx, club| Ok(incidents::add(tx, club, &added)?)).await.unwrap();
                written.push(one);
            }
        }
        for bow in [None, Some(red.id)] {
            let wanted = |one: &&Incident| bow.is_none_or(|bow| one.bow_id == bow);
            let expected: Vec<Incident> = written.iter().filter(wanted).cloned().collect();
            let (mut paged, mut after) = (Vec::new(), None);
            loop {
                let next = list(&scene, bow, Page { after, limit: 5 }).await;
                let Some(last) = next.last() else { break };
                after = Some(last.id.0);
                paged.extend(next);
            }
            assert_eq!(paged, expected);
        }
    })
    .await;
}
