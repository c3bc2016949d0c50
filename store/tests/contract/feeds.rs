//! Calendars that people subscribed to: kept, found by the hash of their address, and revoked; and with
//! the wrong club none is found, changed or made.

use domain::{
    calendar::{Feed, FeedScope},
    ids::ClubId,
    members::{Member, Role},
};
use store::{
    Read, StoreError, Tx,
    feeds::{self, Reading},
    members,
};

use crate::{
    invented::{self, at, name},
    support::{Database, Refused, Scene, on_both},
};

fn feed(member: &Member) -> Feed {
    Feed {
        id: invented::id(),
        member: member.id,
        name: name("Phone of the \u{5f13} bench"),
        scope: FeedScope::Squad,
        created_at: at(0),
        revoked_at: None,
    }
}

/// A calendar of somebody who joins a club.
async fn subscribed(scene: &Scene, hash: &'static str) -> (Member, Feed) {
    let member = scene.joins(Role::Coach).await;
    let feed = feed(&member);
    let kept = feed.clone();
    scene.write(move |tx, club| Ok(feeds::add(tx, club, &kept, hash)?)).await.unwrap();
    (member, feed)
}

async fn reading(db: &Database, hash: &'static str) -> Option<Reading> {
    let found: Result<_, StoreError> = db.store.read(move |read| feeds::reading(read, hash)).await;
    found.unwrap()
}

#[tokio::test]
async fn a_calendar_is_found_by_its_hash_until_it_is_revoked() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (member, kept) = subscribed(&scene, "hash").await;
        let (id, of) = (kept.id, member.id);
        let listed = || scene.read(move |read, club| feeds::of_member(read, club, of));
        assert_eq!(listed().await, std::slice::from_ref(&kept));
        let (club, role) = (scene.club.id, Role::Coach);
        let found = reading(&db, "hash").await;
        assert_eq!(found, Some(Reading { club, feed: kept.clone(), role }));
        assert_eq!(reading(&db, "Hash").await, None);
        let again = kept.clone();
        let twice = scene.write(move |tx, club| Ok(feeds::add(tx, club, &again, "another")?)).await;
        assert!(twice.is_err());
        // Who revokes it again changes nothing.
        for day in [3, 4] {
            let revoke = move |tx: &mut Tx<'_>, club| Ok(feeds::revoke(tx, club, id, at(day))?);
            scene.write(revoke).await.unwrap();
        }
        let now = scene.read(move |read, club| feeds::get(read, club, id)).await;
        assert_eq!(now, Feed { revoked_at: Some(at(3)), ..kept });
        assert_eq!((reading(&db, "hash").await, listed().await), (None, vec![]));
    })
    .await;
}

#[tokio::test]
async fn nobody_reads_the_calendar_of_somebody_who_left() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (member, _) = subscribed(&scene, "hash").await;
        assert!(reading(&db, "hash").await.is_some());
        let left = Member { left_at: Some(at(2)), ..member };
        scene.write(move |tx, club| Ok(members::change(tx, club, &left)?)).await.unwrap();
        assert_eq!(reading(&db, "hash").await, None);
    })
    .await;
}

type Change = Box<dyn FnOnce(&mut Tx<'_>, ClubId) -> Result<bool, Refused> + Send>;

#[tokio::test]
async fn no_calendar_of_another_club_is_found_changed_or_made() {
    on_both(async |db| {
        let (theirs, ours) = (db.scene().await, db.scene().await);
        let (member, feed) = subscribed(&theirs, "hash").await;
        let (id, of) = (feed.id, member.id);
        let found = move |read: &mut Read<'_>, club| {
            let one = feeds::get(read, club, id).is_ok();
            Ok((one, !feeds::of_member(read, club, of)?.is_empty()))
        };
        assert_eq!(theirs.read(found).await, (true, true));
        assert_eq!(ours.read(found).await, (false, false));
        let another = Feed { id: invented::id(), ..feed.clone() };
        let changes: [(&str, Change); 2] = [
            (
                "feeds::add",
                Box::new(move |tx, club| {
                    Ok(feeds::add(tx, club, &another, "another").map(|()| true)?)
                }),
            ),
            (
                "feeds::revoke",
                Box::new(move |tx, club| Ok(feeds::revoke(tx, club, id, at(0)).is_err())),
            ),
        ];
        for (called, change) in changes {
            assert!(!ours.write(change).await.unwrap_or(false), "{called}");
            let now = theirs.read(move |read, club| feeds::get(read, club, id)).await;
            assert_eq!(now, feed, "{called}");
        }
        assert_eq!(reading(&db, "another").await, None);
    })
    .await;
}
