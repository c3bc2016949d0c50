//! Kinds of mail that somebody stops: what stays stopped, also of two who do it at once.

use std::{collections::BTreeSet, thread, time::Duration};

use domain::{
    ids::MemberId,
    mail::MailKind::{self, Digest, Event, Nudge},
    members::Role,
};
use store::stopped_mail::{self, Change};
use tokio::sync::oneshot;

use crate::{
    invented::at,
    support::{Refused, Scene, on_both},
};

fn kinds<const N: usize>(kinds: [MailKind; N]) -> BTreeSet<MailKind> {
    BTreeSet::from(kinds)
}

async fn stopped(scene: &Scene, member: MemberId) -> BTreeSet<MailKind> {
    scene.read(move |read, club| stopped_mail::of_member(read, club, member)).await
}

async fn add(scene: &Scene, member: MemberId, kind: MailKind) -> Change {
    let change = scene.write(move |tx, club| Ok(stopped_mail::add(tx, club, member, kind, at(1))?));
    change.await.unwrap()
}

#[tokio::test]
async fn a_kind_is_stopped_and_comes_again_whatever_else_is_stopped() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (one, other) = (scene.joins(Role::Archer).await.id, scene.joins(Role::Coach).await.id);
        let first = add(&scene, one, Digest).await;
        assert_eq!((&first.before, &first.after), (&kinds([]), &kinds([Digest])));
        let second = add(&scene, one, Event).await;
        assert_eq!(second.stopped().collect::<Vec<_>>(), [Event]);
        let again = add(&scene, one, Digest).await;
        assert!(!again.is_any() && again.stopped().next().is_none(), "{again:?}");

        let set = async |to: BTreeSet<MailKind>| {
            let set = scene.write(move |tx, club| Ok(stopped_mail::set(tx, club, one, to, at(2))?));
            set.await.unwrap()
        };
        let replaced = set(kinds([Event, Nudge])).await;
        assert_eq!(replaced.stopped().collect::<Vec<_>>(), [Nudge]);
        assert_eq!(stopped(&scene, one).await, kinds([Event, Nudge]));
        assert!(!set(kinds([Nudge, Event])).await.is_any());

        let remove =
            scene.write(move |tx, club| Ok(stopped_mail::remove(tx, club, one, Event, at(3))?));
        let removed = remove.await.unwrap();
        assert!(removed.is_any() && removed.stopped().next().is_none(), "{removed:?}");
        assert_eq!(stopped(&scene, one).await, kinds([Nudge]));
        assert_eq!(stopped(&scene, other).await, kinds([]));
        add(&scene, other, Digest).await;
        let all = scene.read(stopped_mail::of_club).await;
        assert_eq!(all, BTreeSet::from([(one, Nudge), (other, Digest)]));
    })
    .await;
}

/// How long the first of two goes on after it stopped its kind: time for the other to read what was there.
const MEANWHILE: Duration = Duration::from_millis(300);

#[tokio::test]
async fn of_two_who_stop_two_kinds_at_once_neither_undoes_the_other() {
    on_both(async |db| {
        let scene = db.scene().await;
        let member = scene.joins(Role::Archer).await.id;
        let (stops, has_stopped) = oneshot::channel();
        let first = scene.write(move |tx, club| {
            let change = stopped_mail::add(tx, club, member, Digest, at(1))?;
            stops.send(()).unwrap();
            thread::sleep(MEANWHILE);
            Ok(change)
        });
        let second = async {
            has_stopped.await.unwrap();
            add(&scene, member, Event).await
        };
        let (first, second): (Result<Change, Refused>, Change) = tokio::join!(first, second);
        assert_eq!(first.unwrap().after, kinds([Digest]));
        assert_eq!((second.before, second.after), (kinds([Digest]), kinds([Digest, Event])));
        assert_eq!(stopped(&scene, member).await, kinds([Digest, Event]));
    })
    .await;
}
