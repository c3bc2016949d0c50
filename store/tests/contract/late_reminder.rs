//! A sweep that adds to a mail while a worker claims it: what is added is carried, or is in no mail
//! that is on its way already.

use std::{sync::mpsc, time::Duration};

use jiff::SignedDuration;
use store::{
    StoreError,
    outbox::{self, Pace},
    reminders,
};

use crate::{
    invented::at,
    reminders::{Subject, reminder},
    support::on_both,
};

const SLOWLY: Pace = Pace { at_once: 1, per_minute: 60 };

#[tokio::test]
async fn a_reminder_is_not_added_to_a_mail_that_was_claimed_meanwhile() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let late = reminder(&scene, &about, scene.owner, "first");
        let (mail, id) = (about.mail.clone(), about.mail.id);
        let (posted, seen) = mpsc::channel();
        let (claimed, go_on) = mpsc::channel();
        let (sweeper, raised) = (scene.clone(), late.clone());
        let sweep = tokio::spawn(async move {
            let sweep = sweeper.write(move |tx, club| {
                outbox::post(tx, club, &mail, at(0))?;
                posted.send(()).unwrap();
                // Where the claim has to wait for this transaction, nobody answers.
                let _ = go_on.recv_timeout(Duration::from_secs(1));
                Ok(reminders::raise(tx, club, &raised)?)
            });
            sweep.await.unwrap()
        });
        tokio::task::spawn_blocking(move || seen.recv().unwrap()).await.unwrap();
        let lease = SignedDuration::from_mins(2);
        let taken = db.store.write(move |tx| outbox::claim(tx, at(2), lease, SLOWLY));
        let taken = taken.await.map_err(|error: StoreError| error.to_string()).unwrap();
        assert_eq!(taken.mails.len(), 1);
        let carried = scene.read(move |read, club| reminders::of_mail(read, club, id)).await;
        let _ = claimed.send(());
        assert!(sweep.await.unwrap());
        assert_eq!(carried, [late], "raised into a mail that had been read already");
    })
    .await;
}
