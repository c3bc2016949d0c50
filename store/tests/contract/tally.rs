//! What whoever runs the server is told of mails and reminders: numbers over all clubs.

use domain::{
    ids::{MailId, MemberId},
    mail::{Mail, MailKind, MailState},
};
use jiff::{SignedDuration, Timestamp};
use store::{
    StoreError,
    outbox::{self, Outcome, Pace},
    tally::{self, Tally},
};

use crate::{
    invented::{self, at, at_hour},
    support::{Database, Scene, on_both},
};

async fn tally(db: &Database, now: Timestamp) -> Tally {
    let counted = db.store.read(move |read| tally::all(read, now)).await;
    counted.map_err(|error: StoreError| error.to_string()).unwrap()
}

async fn post(scene: &Scene, key: &str, due_at: Timestamp) {
    let on = jiff::civil::date(2027, 3, 2);
    let id: MailId = invented::id();
    let to: MemberId = scene.owner;
    let mail = Mail::new(id, MailKind::Digest, to, (due_at, on), key.to_owned());
    scene.write(move |tx, club| Ok(outbox::post(tx, club, &mail, at(0))?)).await.unwrap();
}

#[tokio::test]
async fn mails_of_all_clubs_are_counted_by_state_and_age() {
    on_both(async |db| {
        let empty = tally(&db, at_hour(5)).await;
        assert_eq!((empty.waiting, empty.oldest_wanted_at), (0, None));
        assert!(MailState::ALL.iter().all(|state| empty.mails[state] == 0));
        assert_eq!(empty.mails.len(), MailState::ALL.len());
        let (one, other) = (db.scene().await, db.scene().await);
        post(&one, "first", at_hour(1)).await;
        post(&other, "second", at_hour(2)).await;
        post(&other, "third", at_hour(3)).await;
        post(&one, "later", at_hour(9)).await;
        let counted = tally(&db, at_hour(5)).await;
        assert_eq!((counted.mails[&MailState::Due], counted.waiting), (4, 3));
        assert_eq!(counted.oldest_wanted_at, Some(at_hour(1)));
        let (lease, pace) = (SignedDuration::from_mins(2), Pace { at_once: 2, per_minute: 60 });
        let claimed = db.store.write(move |tx| outbox::claim(tx, at_hour(5), lease, pace));
        let claimed = claimed.await.map_err(|error: StoreError| error.to_string()).unwrap().mails;
        let put_off = Outcome::Retry(at_hour(8), "451 later".to_owned());
        for (posted, outcome) in claimed.into_iter().zip([Outcome::Sent("250".to_owned()), put_off])
        {
            let finished =
                db.store.write(move |tx| outbox::finish(tx, &posted, &outcome, at_hour(5)));
            assert!(finished.await.map_err(|error: StoreError| error.to_string()).unwrap());
        }
        // However often one is put off, it waits since it was wanted.
        let counted = tally(&db, at_hour(5)).await;
        let of = |state| counted.mails[&state];
        assert_eq!((of(MailState::Sent), of(MailState::Retry), of(MailState::Due)), (1, 1, 2));
        assert_eq!((counted.waiting, counted.oldest_wanted_at), (2, Some(at_hour(2))));
    })
    .await;
}
