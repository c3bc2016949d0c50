//! Changes on record: as they were written, the last one first, and by whatever somebody asks for.

use domain::{
    audit::{Change, Subject},
    ids::{BowId, MemberId},
};
use jiff::Timestamp;
use store::{
    Page,
    audit::{self, Filter},
};
use uuid::Uuid;

use crate::{
    invented::{self, at},
    support::{Scene, on_both},
};

/// A change of a bow by somebody.
pub(crate) fn change(by: MemberId, bow: Option<BowId>, at: Timestamp) -> Change {
    Change {
        id: invented::id(),
        at,
        by: Some(by),
        operation: "change_bow".to_owned(),
        subject: Subject::Bow,
        subject_id: bow.map_or_else(Uuid::nil, |bow| bow.0),
        bow,
        before: Some(r#"{"name":"Blau 弓"}"#.to_owned()),
        after: Some(r#"{"name":"Rot"}"#.to_owned()),
    }
}

async fn found(scene: &Scene, filter: Filter, page: Page) -> Vec<Change> {
    scene.read(move |read, club| audit::list(read, club, &filter, page)).await
}

const EVERYTHING: Page = Page { after: None, limit: 100 };

#[tokio::test]
async fn a_change_is_kept_as_it_was_written_and_found_by_what_is_asked_for() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (blue, red) = (scene.bow("blue").await.id, scene.bow("red").await.id);
        let first = change(scene.owner, Some(blue), at(1));
        let second = Change {
            by: None,
            operation: "remove_rule".to_owned(),
            subject: Subject::Rule,
            subject_id: invented::id(),
            bow: None,
            before: None,
            after: None,
            ..change(scene.owner, None, at(2))
        };
        let third = change(scene.owner, Some(red), at(3));
        let all = [first.clone(), second.clone(), third.clone()];
        let written = all.clone();
        scene
            .write(move |tx, club| {
                Ok(written.iter().try_for_each(|one| audit::record(tx, club, one))?)
            })
            .await
            .unwrap();
        let [first, second, third] = all;
        let any = Filter::default();
        let newest = [third.clone(), second.clone(), first.clone()];
        assert_eq!(found(&scene, any.clone(), EVERYTHING).await, newest);
        for (filter, expected) in [
            (Filter { subject_id: Some(blue.0), ..any.clone() }, vec![&first]),
            (Filter { bows: Some(vec![blue, red]), ..any.clone() }, vec![&third, &first]),
            (Filter { bows: Some(vec![red]), ..any.clone() }, vec![&third]),
            (Filter { bows: Some(vec![]), ..any.clone() }, vec![]),
            (Filter { by: Some(scene.owner), ..any.clone() }, vec![&third, &first]),
            (Filter { operation: Some("remove_rule".to_owned()), ..any.clone() }, vec![&second]),
            (Filter { from: Some(at(2)), ..any.clone() }, vec![&third, &second]),
            (Filter { until: Some(at(2)), ..any.clone() }, vec![&first]),
            (Filter { from: Some(at(2)), until: Some(at(3)), ..any.clone() }, vec![&second]),
            (Filter { bows: Some(vec![blue]), from: Some(at(2)), ..any.clone() }, vec![]),
        ] {
            let rows = found(&scene, filter.clone(), EVERYTHING).await;
            assert_eq!(rows.iter().collect::<Vec<_>>(), expected, "{filter:?}");
        }
        let one = Page { after: None, limit: 1 };
        assert_eq!(found(&scene, any.clone(), one).await, vec![third.clone()]);
        let next = Page { after: Some(third.id.0), limit: 1 };
        assert_eq!(found(&scene, any.clone(), next).await, [second]);
        let last = Page { after: Some(first.id.0), limit: 1 };
        assert_eq!(found(&scene, any, last).await, []);
    })
    .await;
}
