//! What stops a bow, what lifts that, and timelines: nothing of it is another club's to see or change.

use domain::{ids::ClubId, incidents::IncidentKind, reminders::About};
use store::{StoreError, bow_clearances, bow_stops, reminders, timeline};

use crate::{
    invented::{self, at, clearance},
    reminders::{Subject, raise, reminder},
    support::on_both,
};

/// A club that is nothing but this id.
fn as_club(id: ClubId) -> domain::clubs::Club {
    domain::clubs::Club { id, ..invented::club() }
}

#[tokio::test]
async fn stops_clearances_and_timelines_of_another_club_are_not_there() {
    on_both(async |db| {
        let (theirs, ours) = (db.scene().await, db.scene().await);
        let on = theirs.strung_bow("theirs", at(0)).await;
        theirs.clear(&on.bow, at(1)).await;
        theirs.happened(&on.bow, IncidentKind::DryFire, at(2)).await;
        let (bow, part) = (on.bow.id, on.string.id);
        let subject = Subject::in_scene(&theirs).await;
        let mut told = reminder(&theirs, &subject, theirs.owner, "first");
        told.about = About::BowStop { bow };
        assert!(raise(&theirs, &told).await);
        for (scene, there) in [(&theirs, true), (&ours, false)] {
            let seen = scene
                .read(move |read, club| {
                    let absent = |error: Option<StoreError>| {
                        matches!(error, Some(StoreError::NotFound { .. }))
                    };
                    Ok([
                        bow_stops::of_bow(read, club, bow)?.is_some(),
                        bow_stops::of_club(read, club)?.len() == 1,
                        bow_stops::reason(read, &as_club(club), bow, at(3))?.is_some(),
                        bow_clearances::of_bow(read, club, bow)?.len() == 1,
                        reminders::stops_told(read, club, &[bow])?.len() == 1,
                        !absent(timeline::of_part(read, &as_club(club), part).err()),
                        !absent(timeline::of_bow(read, &as_club(club), bow).err()),
                    ])
                })
                .await;
            assert_eq!(seen, [there; 7]);
        }
    })
    .await;
}

#[tokio::test]
async fn nobody_clears_a_bow_of_another_club_nor_in_the_name_of_its_people() {
    on_both(async |db| {
        let (theirs, ours) = (db.scene().await, db.scene().await);
        let (bow, own) = (theirs.bow("theirs").await, ours.bow("ours").await);
        theirs.happened(&bow, IncidentKind::DryFire, at(2)).await;
        let before = theirs.bow_stops(&[bow.id]).await;
        assert!(before[0].is_some());
        for one in [clearance(ours.owner, bow.id, at(3)), clearance(theirs.owner, own.id, at(3))] {
            let refused =
                ours.write(move |tx, club| Ok(bow_clearances::add(tx, club, &one)?)).await;
            assert!(refused.is_err());
        }
        assert_eq!(theirs.bow_stops(&[bow.id]).await, before);
    })
    .await;
}
