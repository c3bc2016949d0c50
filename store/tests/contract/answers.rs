//! What is answered to a reminder: how long it stands, for which others, and what brings it back.

use domain::{
    mail::{MailKind, MailState},
    members::Role,
    reach::Reach,
    reminders::{About, Reminder, ReminderState, work_stage},
    rules::Condition,
};
use store::{
    Page, answers, mails,
    reminders::{self, Filter},
};

use crate::{
    invented::{self, at, just_before},
    reminders::{Subject, raise, reminder},
    support::{Scene, on_both},
};

const EVERYTHING: Page = Page { after: None, limit: 100 };

/// The same work, as it is raised at a moment and a stage.
fn staged(one: &Reminder, condition: Condition, raised_at: jiff::Timestamp) -> Reminder {
    let stage = work_stage(condition);
    let dedupe_key = one.about.dedupe_key(&one.cycle, one.recipient, &stage);
    Reminder { id: invented::id(), stage, dedupe_key, raised_at, ..one.clone() }
}

async fn state(scene: &Scene, one: &Reminder) -> ReminderState {
    let id = one.id;
    scene.read(move |read, club| reminders::get(read, club, id)).await.reminder.state
}

#[tokio::test]
async fn what_is_put_off_stays_so_at_every_stage_until_its_time_and_then_comes_once() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let nearing =
            staged(&reminder(&scene, &about, scene.owner, "first"), Condition::Nearing, at(1));
        let due = staged(&nearing, Condition::Due, at(2));
        let other_cycle = reminder(&scene, &about, scene.owner, "second");
        for one in [&nearing, &due, &other_cycle] {
            assert!(raise(&scene, one).await);
        }
        // By the link of the first mail, which said that it is nearing.
        let of = nearing.clone();
        scene.write(move |tx, c| Ok(answers::snooze(tx, c, &of, at(3), at(6))?)).await.unwrap();
        for one in [&nearing, &due] {
            assert_eq!(state(&scene, one).await, ReminderState::Snoozed);
        }
        assert_eq!(state(&scene, &other_cycle).await, ReminderState::Raised);
        let key = nearing.whatever_its_stage().to_owned();
        for (when, put_off) in [(at(3), true), (just_before(at(6)), true), (at(6), false)] {
            let found = scene.read(move |read, club| answers::snoozed(read, club, when)).await;
            assert_eq!(found.contains(&key), put_off, "{when}");
            let again = Reminder { raised_at: when, ..due.clone() };
            assert_eq!(raise(&scene, &again).await, !put_off, "{when}");
        }
        assert!(!raise(&scene, &Reminder { raised_at: at(7), ..due.clone() }).await, "twice");
        let id = due.id;
        let listed = scene.read(move |read, club| reminders::get(read, club, id)).await;
        assert_eq!((listed.answered_at, listed.snoozed_until), (None, None));
    })
    .await;
}

#[tokio::test]
async fn an_answer_is_kept_though_the_mail_goes_out_afterwards() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let one = reminder(&scene, &about, scene.owner, "first");
        assert!(raise(&scene, &one).await);
        let id = one.id;
        scene
            .write(move |tx, c| {
                answers::done(tx, c, id, at(2))?;
                Ok(reminders::set_state(tx, c, id, ReminderState::Sent)?)
            })
            .await
            .unwrap();
        let listed = scene.read(move |read, club| reminders::get(read, club, id)).await;
        assert_eq!(listed.reminder.state, ReminderState::Done);
        assert_eq!(listed.answered_at, Some(at(2)));
    })
    .await;
}

#[tokio::test]
async fn who_disowns_a_bow_leaves_no_work_of_it_open_and_every_stop() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let coach = scene.joins(Role::Coach).await;
        let mine = reminder(&scene, &about, scene.owner, "first");
        let theirs = reminder(&scene, &about, coach.id, "first");
        let About::Work { part, bow, .. } = mine.about else { panic!() };
        let stop = About::Stop { part, bow };
        let stopped = Reminder {
            id: invented::id(),
            about: stop,
            dedupe_key: stop.dedupe_key("first", scene.owner, "do_not_shoot"),
            ..mine.clone()
        };
        for one in [&mine, &theirs, &stopped] {
            assert!(raise(&scene, one).await);
        }
        let owner = scene.owner;
        scene.write(move |tx, c| Ok(answers::disown(tx, c, bow, owner, at(2))?)).await.unwrap();
        assert_eq!(state(&scene, &mine).await, ReminderState::Disowned);
        assert_eq!(state(&scene, &theirs).await, ReminderState::Raised);
        assert_eq!(state(&scene, &stopped).await, ReminderState::Raised);
    })
    .await;
}

#[tokio::test]
async fn reminders_and_mails_are_listed_by_what_became_of_them() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let coach = scene.joins(Role::Coach).await;
        let mine = reminder(&scene, &about, scene.owner, "first");
        let theirs = reminder(&scene, &about, coach.id, "first");
        assert!(raise(&scene, &mine).await && raise(&scene, &theirs).await);
        let id = mine.id;
        scene.write(move |tx, c| Ok(answers::done(tx, c, id, at(2))?)).await.unwrap();
        let (me, coach, bow) = (scene.owner, coach.id, mine.about.bow());
        let check = async |filter: Filter, expected: &[&Reminder]| {
            let asked = filter.clone();
            let found = scene.read(move |read, club| {
                reminders::list(read, club, &Reach::Everybody, &asked, EVERYTHING)
            });
            let found: Vec<_> = found.await.into_iter().map(|one| one.reminder.id).collect();
            let expected: Vec<_> = expected.iter().map(|one| one.id).collect();
            assert_eq!(found, expected, "{filter:?}");
        };
        let any = Filter::default();
        check(any.clone(), &[&mine, &theirs]).await;
        check(Filter { state: Some(ReminderState::Done), ..any.clone() }, &[&mine]).await;
        check(Filter { state: Some(ReminderState::Sent), ..any.clone() }, &[]).await;
        check(Filter { mail_state: Some(MailState::Due), ..any.clone() }, &[&mine, &theirs]).await;
        check(Filter { mail_state: Some(MailState::Dead), ..any.clone() }, &[]).await;
        check(Filter { bow, ..any.clone() }, &[&mine, &theirs]).await;
        check(Filter { bow: Some(invented::id()), ..any.clone() }, &[]).await;
        check(Filter { recipient: Some(coach), ..any.clone() }, &[&theirs]).await;
        let (state, recipient) = (Some(ReminderState::Done), Some(me));
        check(Filter { state, recipient, bow, mail_state: Some(MailState::Due) }, &[&mine]).await;

        let of = async |to: Reach, state, kind| {
            let filter = mails::Filter { state, kind };
            let found = scene
                .read(move |read, club| mails::list(read, club, &to, filter, EVERYTHING))
                .await;
            found.len()
        };
        assert_eq!(of(Reach::Everybody, None, None).await, 1);
        assert_eq!(of(Reach::Own(coach), None, None).await, 0);
        assert_eq!(of(Reach::Own(me), Some(MailState::Due), Some(MailKind::Digest)).await, 1);
        assert_eq!(of(Reach::Own(me), Some(MailState::Dead), None).await, 0);
        assert_eq!(of(Reach::Own(me), None, Some(MailKind::Reset)).await, 0);
    })
    .await;
}
