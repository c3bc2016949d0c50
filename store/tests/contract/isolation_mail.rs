//! What mails told, and which are waiting, read back by their own club and by no other.

use domain::{
    events::Event,
    ids::{BowId, ClubId},
    mail::{ChangeWindow, Mail, MailKind, MailState, Told, ToldBow, ToldWork, digest_key},
    parts::PartKind,
    reminders::{About, Reminder, ReminderState, event_cycle},
    rules::RuleTask,
};
use jiff::{Timestamp, civil::date};
use store::{Read, StoreError, Tx, events, outbox, reminders, threads, told};

use crate::{
    events::event,
    invented::{self, at},
    reminders::{Subject, raise, reminder},
    support::{Scene, on_both},
};

const DAY: jiff::civil::Date = date(2027, 5, 29);

fn told_of(event: &Event, bow: Option<BowId>, part: domain::ids::PartId) -> Told {
    let windows = [
        ChangeWindow::Open,
        ChangeWindow::Until(date(2027, 6, 3)),
        ChangeWindow::Closed,
        ChangeWindow::Unknown,
    ];
    let works = [Some(date(2027, 6, 11)), None].map(|by| ToldWork {
        part,
        part_kind: PartKind::Bowstring,
        task: RuleTask::Wax,
        by,
    });
    let bow = |change| ToldBow {
        bow: bow.unwrap_or_else(invented::id),
        stopped: change == ChangeWindow::Closed,
        works: works.to_vec(),
        change,
    };
    Told {
        on: DAY,
        starts_on: event.dates.starts_on(),
        ends_on: Some(event.dates.ends_on()),
        bows: windows.map(bow).to_vec(),
    }
}

/// An event that was told of in a mail that went out, and a digest that waits.
struct Theirs {
    scene: Scene,
    event: Event,
    bow: BowId,
    reminder: Reminder,
    told: Told,
    waiting: Mail,
}

impl Theirs {
    async fn in_database(db: &crate::support::Database) -> Self {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let (event, waiting) = (event(scene.owner, 100, 101), about.mail.clone());
        let work = reminder(&scene, &about, scene.owner, "first");
        let (part, bow) = (work.about.part().unwrap(), work.about.bow().unwrap());
        let own = About::Event { event: event.id, bow: Some(bow) };
        let key = "went out".to_owned();
        let went = Mail::new(invented::id(), MailKind::Event, scene.owner, (at(1), DAY), key);
        let (mail_id, went) = (went.id, Mail { state: MailState::Sent, ..went });
        scene.write(move |tx, c| Ok(outbox::post(tx, c, &went, at(0))?)).await.unwrap();
        let cycle = event_cycle(event.dates.starts_on());
        let reminder = Reminder {
            about: own,
            dedupe_key: own.dedupe_key(&cycle, scene.owner, "14"),
            cycle,
            stage: "14".to_owned(),
            mail_id,
            ..work
        };
        let told = told_of(&event, Some(bow), part);
        let (added, kept, id) = (event.clone(), told.clone(), reminder.id);
        scene.write(move |tx, c| Ok(events::add(tx, c, &added)?)).await.unwrap();
        assert!(raise(&scene, &reminder).await);
        let say = move |tx: &mut Tx<'_>, club: ClubId| {
            told::keep(tx, club, id, &kept)?;
            Ok(reminders::set_state(tx, club, id, ReminderState::Sent)?)
        };
        scene.write(say).await.unwrap();
        Self { scene, event, bow, reminder, told, waiting }
    }

    /// What a club finds of it.
    async fn found(
        &self,
        by: &Scene,
    ) -> (Vec<Told>, Option<domain::ids::MailId>, i64, Option<Mail>) {
        let (event, bow, to) = (self.event.id, self.bow, self.scene.owner);
        let (one, day) = (self.reminder.clone(), self.waiting.for_date);
        let read = by.read(move |read: &mut Read<'_>, club| {
            let mut told = Vec::new();
            told.extend(told::last(read, club, event, Some(bow), to)?);
            told.extend(told::latest(read, club, event, to)?);
            told.extend(told::of_changed_events(read, club, Timestamp::UNIX_EPOCH)?.into_values());
            let first = threads::first_mail(read, club, &one)?;
            let when = reminders::told_at(read, club, std::slice::from_ref(&one.dedupe_key))?;
            assert_eq!(when.contains_key(&one.dedupe_key), first.is_some());
            let ever = (Timestamp::UNIX_EPOCH, at(90));
            assert!(!outbox::digest_went_out(read, club, to, ever)?);
            Ok::<_, StoreError>((told, first, outbox::apart_on(read, club, to, day)?))
        });
        let (told, first, apart) = read.await;
        let waits = by.write(move |tx, club| Ok(outbox::waiting_digest(tx, club, to)?));
        (told, first, apart, waits.await.unwrap())
    }
}

#[tokio::test]
async fn what_a_mail_told_is_read_back_by_its_club_and_no_other() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        let own = theirs.found(&theirs.scene).await;
        let mail = Some(theirs.reminder.mail_id);
        // An event as it was entered has led nobody astray.
        let told = vec![theirs.told.clone(), theirs.told.clone()];
        assert_eq!(own, (told, mail, 0, Some(theirs.waiting.clone())));
        let ours = db.scene().await;
        assert_eq!(theirs.found(&ours).await, (Vec::new(), None, 0, None));
        let (id, kept) = (theirs.reminder.id, Told { ends_on: None, ..theirs.told.clone() });
        ours.write(move |tx, c| Ok(told::keep(tx, c, id, &kept)?)).await.unwrap();
        assert_eq!(theirs.found(&theirs.scene).await.0[0], theirs.told);
    })
    .await;
}

#[tokio::test]
async fn what_was_told_of_an_event_counts_once_it_was_changed() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        let (changed, owner) = (theirs.event.clone(), theirs.scene.owner);
        let after = Event { changed_at: at(50), ..changed };
        theirs.scene.write(move |tx, c| Ok(events::change(tx, c, &after)?)).await.unwrap();
        for (since, found) in [(at(50), true), (at(51), false)] {
            let read = theirs.scene.read(move |r, c| told::of_changed_events(r, c, since)).await;
            let told = read.get(&(theirs.event.id, owner));
            assert_eq!(told, Some(&theirs.told).filter(|_| found));
        }
    })
    .await;
}

#[tokio::test]
async fn a_digest_waits_until_it_is_claimed_and_mails_of_their_own_are_counted_by_day() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        let (scene, on) = (&theirs.scene, theirs.waiting.for_date);
        let mail = |kind, key: &str, state| Mail {
            state,
            ..Mail::new(invented::id(), kind, scene.owner, (at(900), on), key.to_owned())
        };
        for mail in [
            mail(MailKind::Event, "a", MailState::Due),
            mail(MailKind::Bench, "b", MailState::Sent),
            mail(MailKind::Squad, "c", MailState::Cancelled),
            mail(MailKind::Stop, "d", MailState::Due),
            Mail { for_date: DAY, ..mail(MailKind::Nudge, "e", MailState::Due) },
            mail(MailKind::Digest, &digest_key(scene.owner, DAY), MailState::Uncertain),
        ] {
            scene.write(move |tx, c| Ok(outbox::post(tx, c, &mail, at(0))?)).await.unwrap();
        }
        let (_, _, apart, waiting) = theirs.found(scene).await;
        assert_eq!((apart, waiting), (2, Some(theirs.waiting.clone())));
        let lease = jiff::SignedDuration::from_mins(2);
        let pace = outbox::Pace { at_once: 1, per_minute: 60 };
        let claim = move |tx: &mut Tx<'_>| outbox::claim(tx, at(2), lease, pace);
        let taken = db.store.write::<_, StoreError, _>(claim).await.unwrap();
        assert_eq!(taken.mails.len(), 1);
        assert_eq!(theirs.found(scene).await.3, None);
    })
    .await;
}
