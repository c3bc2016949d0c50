//! Mail in the outbox: written once, claimed by one worker at a time, finished by whoever has it.

use std::collections::BTreeMap;

use domain::{
    ids::MailId,
    mail::{Mail, MailKind, MailState},
};
use jiff::{SignedDuration, Timestamp};
use store::{
    Store, StoreError,
    outbox::{self, Claimed, Outcome, Pace, Posted},
};
use tokio::task::JoinSet;

use crate::{
    invented::{self, at, at_hour},
    support::{Scene, on_both},
};

const LEASE: SignedDuration = SignedDuration::from_hours(1);

/// A digest that is to be sent at a time.
fn mail(scene: &Scene, key: &str, due_at: Timestamp) -> Mail {
    let on = jiff::civil::date(2027, 3, 2);
    Mail::new(invented::id(), MailKind::Digest, scene.owner, (due_at, on), key.to_owned())
}

async fn post(scene: &Scene, mail: &Mail) -> Mail {
    let mail = mail.clone();
    scene.write(move |tx, club| Ok(outbox::post(tx, club, &mail, at(0))?)).await.unwrap()
}

async fn claim(store: &Store, now: Timestamp, limit: u32) -> Vec<Posted> {
    claim_at_pace(store, now, Pace { at_once: limit, per_minute: u32::MAX }).await.mails
}

async fn claim_at_pace(store: &Store, now: Timestamp, pace: Pace) -> Claimed {
    let claimed = store.write(move |tx| outbox::claim(tx, now, LEASE, pace));
    claimed.await.map_err(|error: StoreError| error.to_string()).unwrap()
}

async fn finish(scene: &Scene, posted: &Posted, outcome: Outcome) -> bool {
    let posted = posted.clone();
    scene.write(move |tx, _| Ok(outbox::finish(tx, &posted, &outcome, at(9))?)).await.unwrap()
}

async fn all(scene: &Scene) -> Vec<Posted> {
    scene.read(outbox::all).await
}

fn keys(posted: &[Posted]) -> Vec<&str> {
    posted.iter().map(|posted| posted.mail.dedupe_key.as_str()).collect()
}

#[tokio::test]
async fn a_mail_with_a_known_key_is_not_posted_again() {
    on_both(async |db| {
        let (scene, other) = (db.scene().await, db.scene().await);
        let first = mail(&scene, "key", at(1));
        assert_eq!(post(&scene, &first).await, first);
        assert_eq!(post(&scene, &mail(&scene, "key", at(2))).await, first);
        let elsewhere = mail(&other, "key", at(3));
        assert_eq!(post(&other, &elsewhere).await, elsewhere);
        let (club, outcome) = (scene.club.id, None);
        let there = Posted { club, mail: first, outcome, tried_at: None, finished_at: None };
        assert_eq!(all(&scene).await, [there]);
    })
    .await;
}

#[tokio::test]
async fn a_mail_found_twice_at_once_is_posted_once() {
    on_both(async |db| {
        let scene = db.scene().await;
        let mut posting = JoinSet::new();
        for _ in 0..20 {
            let (scene, mail) = (scene.clone(), mail(&scene, "key", at(1)));
            posting.spawn(async move { post(&scene, &mail).await.id });
        }
        let mut ids = posting.join_all().await;
        ids.dedup();
        assert_eq!(ids, [all(&scene).await[0].mail.id]);
    })
    .await;
}

#[tokio::test]
async fn what_is_due_is_claimed_in_order_and_up_to_the_limit() {
    on_both(async |db| {
        let scene = db.scene().await;
        for (key, hour) in [("third", 3), ("first", 1), ("second", 2), ("later", 4)] {
            post(&scene, &mail(&scene, key, at_hour(hour))).await;
        }
        let claimed = claim(&scene.store, at_hour(3), 2).await;
        assert_eq!(keys(&claimed), ["first", "second"]);
        for posted in &claimed {
            // The attempt that this is, and the state that the mail was found in.
            assert_eq!((posted.mail.state, posted.mail.attempt), (MailState::Due, 1));
            assert_eq!((posted.club, &posted.outcome), (scene.club.id, &None));
            assert_eq!((posted.tried_at, posted.finished_at), (Some(at_hour(3)), None));
        }
        assert_eq!(keys(&claim(&scene.store, at_hour(3), 10).await), ["third"]);
        assert_eq!(claim(&scene.store, at_hour(3), 10).await, []);
        let kept = &all(&scene).await[1].mail;
        assert_eq!((kept.state, kept.attempt), (MailState::Sending, 1));
    })
    .await;
}

#[tokio::test]
async fn many_workers_claim_every_mail_exactly_once() {
    on_both(async |db| {
        let clubs = [db.scene().await, db.scene().await];
        for n in 0..100 {
            for scene in &clubs {
                post(scene, &mail(scene, &n.to_string(), at_hour(n % 7))).await;
            }
        }
        let mut workers = JoinSet::new();
        for _ in 0..6 {
            let store = db.store.clone();
            workers.spawn(async move { claim_until_none_is_left(&store).await });
        }
        let claims = workers.join_all().await.concat();
        let mut times: BTreeMap<MailId, u32> = BTreeMap::new();
        for posted in &claims {
            assert_eq!(posted.mail.attempt, 1);
            *times.entry(posted.mail.id).or_default() += 1;
        }
        assert_eq!((claims.len(), times.len()), (200, 200));
        for scene in &clubs {
            assert!(all(scene).await.iter().all(|p| p.mail.state == MailState::Sending));
        }
    })
    .await;
}

/// Claims as a worker does: an empty hand may mean that another was faster, so it looks again.
async fn claim_until_none_is_left(store: &Store) -> Vec<Posted> {
    let (mut mine, mut empty_hands) = (Vec::new(), 0);
    while empty_hands < 40 {
        let claimed = claim(store, at_hour(10), 7).await;
        empty_hands = if claimed.is_empty() { empty_hands + 1 } else { 0 };
        mine.extend(claimed);
    }
    mine
}

#[tokio::test]
async fn a_lease_that_is_over_lets_another_claim_and_the_first_can_change_nothing() {
    on_both(async |db| {
        let scene = db.scene().await;
        post(&scene, &mail(&scene, "key", at_hour(0))).await;
        let slow = claim(&scene.store, at_hour(0), 1).await.remove(0);
        assert_eq!(claim(&scene.store, invented::just_before(at_hour(1)), 1).await, []);
        let quick = claim(&scene.store, at_hour(1), 1).await.remove(0);
        assert_eq!((slow.mail.attempt, quick.mail.attempt), (1, 2));
        let before = all(&scene).await;
        for outcome in outcomes() {
            assert!(!finish(&scene, &slow, outcome).await);
        }
        assert_eq!(all(&scene).await, before);
        assert!(finish(&scene, &quick, Outcome::Sent("250 ok".to_owned())).await);
        assert!(!finish(&scene, &quick, Outcome::Dead("again".to_owned())).await);
        let there = all(&scene).await.remove(0);
        assert_eq!((there.mail.state, there.outcome.as_deref()), (MailState::Sent, Some("250 ok")));
        assert_eq!((there.tried_at, there.finished_at), (Some(at_hour(1)), Some(at(9))));
    })
    .await;
}

#[tokio::test]
async fn what_must_not_be_shot_goes_out_before_all_that_can_wait() {
    on_both(async |db| {
        let scene = db.scene().await;
        let stop = Mail { kind: MailKind::Stop, ..mail(&scene, "stop", at_hour(2)) };
        for one in [mail(&scene, "first", at_hour(0)), mail(&scene, "then", at_hour(1)), stop] {
            post(&scene, &one).await;
        }
        let mut order = Vec::new();
        for _ in 0..3 {
            order.push(claim(&scene.store, at_hour(3), 1).await.remove(0).mail.dedupe_key);
        }
        assert_eq!(order, ["stop", "first", "then"]);
    })
    .await;
}

/// One outcome of each sort; what is to be tried again is so at hour 5.
fn outcomes() -> [Outcome; 5] {
    let why = || "because".to_owned();
    [
        Outcome::Retry(at_hour(5), why()),
        Outcome::Uncertain(at_hour(5), why()),
        Outcome::Sent(why()),
        Outcome::Cancelled(why()),
        Outcome::Dead(why()),
    ]
}

#[tokio::test]
async fn what_failed_for_now_comes_back_at_its_time_and_what_is_over_never_does() {
    on_both(async |db| {
        let scene = db.scene().await;
        for key in ["retry", "uncertain", "sent", "cancelled", "dead"] {
            post(&scene, &mail(&scene, key, at_hour(0))).await;
        }
        let claimed = claim(&scene.store, at_hour(0), 10).await;
        for (posted, outcome) in claimed.iter().zip(outcomes()) {
            assert!(finish(&scene, posted, outcome).await);
        }
        let states: Vec<MailState> = all(&scene).await.iter().map(|p| p.mail.state).collect();
        let (retry, uncertain) = (MailState::Retry, MailState::Uncertain);
        let over = [MailState::Sent, MailState::Cancelled, MailState::Dead];
        assert_eq!(states, [&[retry, uncertain][..], &over].concat());
        assert!(all(&scene).await.iter().all(|p| p.outcome.as_deref() == Some("because")));
        assert_eq!(claim(&scene.store, invented::just_before(at_hour(5)), 10).await, []);
        let back = claim(&scene.store, at_hour(5), 10).await;
        assert_eq!(keys(&back), ["retry", "uncertain"]);
        assert!(back.iter().all(|posted| posted.mail.attempt == 2));
        for posted in &back {
            assert!(finish(&scene, posted, Outcome::Dead("enough".to_owned())).await);
        }
        assert_eq!(claim(&scene.store, at(1_000), 10).await, []);
    })
    .await;
}

#[tokio::test]
async fn only_what_is_over_has_a_time_of_its_end_and_only_a_claim_has_a_lease() {
    on_both(async |db| {
        let scene = db.scene().await;
        for key in ["retry", "uncertain", "sent", "cancelled", "dead", "claimed", "due"] {
            post(&scene, &mail(&scene, key, at_hour(0))).await;
        }
        let claimed = claim(&scene.store, at_hour(0), 6).await;
        for (posted, outcome) in claimed.iter().zip(outcomes()) {
            assert!(finish(&scene, posted, outcome).await);
        }
        let with = |column: &str| {
            db.fresh.texts(&format!(
                "SELECT dedupe_key AS text FROM outbox WHERE {column} IS NOT NULL ORDER BY 1"
            ))
        };
        assert_eq!(with("finished_at"), ["cancelled", "dead", "sent"]);
        assert_eq!(with("leased_until"), ["claimed"]);
    })
    .await;
}

#[tokio::test]
async fn no_more_is_claimed_in_any_minute_than_the_pace_allows() {
    on_both(async |db| {
        let scene = db.scene().await;
        for n in 0..12 {
            post(&scene, &mail(&scene, &n.to_string(), at_hour(0))).await;
        }
        let pace = Pace { at_once: 4, per_minute: 6 };
        let after = |seconds| at_hour(1) + SignedDuration::from_secs(seconds);
        let mut taken = Vec::new();
        for seconds in [0, 30, 31, 59, 60, 61, 89, 90, 91] {
            let claimed = claim_at_pace(&scene.store, after(seconds), pace).await;
            taken.push((seconds, claimed.mails.len(), claimed.left));
        }
        // The four of second 0 count until second 60, the two of second 30 until 90.
        let expected = [
            (0, 4, 2),
            (30, 2, 0),
            (31, 0, 0),
            (59, 0, 0),
            (60, 4, 0),
            (61, 0, 0),
            (89, 0, 0),
            (90, 2, 0),
            (91, 0, 0),
        ];
        assert_eq!(taken, expected);
    })
    .await;
}

#[tokio::test]
async fn two_workers_do_not_both_fill_the_last_gap_of_a_minute() {
    on_both(async |db| {
        let scene = db.scene().await;
        for n in 0..60 {
            post(&scene, &mail(&scene, &n.to_string(), at_hour(0))).await;
        }
        let pace = Pace { at_once: 4, per_minute: 10 };
        let mut workers = JoinSet::new();
        for _ in 0..12 {
            let store = db.store.clone();
            let claim = async move { claim_at_pace(&store, at_hour(1), pace).await.mails.len() };
            workers.spawn(claim);
        }
        assert_eq!(workers.join_all().await.iter().sum::<usize>(), 10);
    })
    .await;
}

#[tokio::test]
async fn a_clock_that_was_set_back_does_not_hold_mail_back() {
    on_both(async |db| {
        let scene = db.scene().await;
        for key in ["first", "second"] {
            post(&scene, &mail(&scene, key, at_hour(0))).await;
        }
        let pace = Pace { at_once: 1, per_minute: 1 };
        let (tomorrow, today) = (at_hour(26), at_hour(1));
        assert_eq!(claim_at_pace(&scene.store, tomorrow, pace).await.mails.len(), 1);
        assert_eq!(claim_at_pace(&scene.store, today, pace).await.mails.len(), 1);
    })
    .await;
}
