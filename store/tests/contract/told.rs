//! What a mail told as the next one needs it: all that somebody knows of an event, and which mail was the
//! first that went out.

use domain::{
    events::Event,
    ids::{BowId, ClubId, MailId, PartId},
    mail::{ChangeWindow, Mail, MailKind, MailState, Told, ToldBow, ToldWork},
    parts::PartKind,
    reminders::{About, Reminder, ReminderState, event_cycle},
    rules::RuleTask,
};
use jiff::{SignedDuration, Timestamp, civil::Date};
use store::{
    Read, StoreError, Tx, events,
    outbox::{self, Outcome, Pace},
    reminders, threads, told,
};

use crate::{
    events::event,
    invented::{self, at},
    reminders::{Subject, raise, reminder},
    support::{Scene, on_both},
};

const DAY: Date = jiff::civil::date(2027, 5, 29);

/// A mail to the owner in a state.
async fn mail(scene: &Scene, key: &str, state: MailState) -> MailId {
    let key = key.to_owned();
    let mail = Mail::new(invented::id(), MailKind::Event, scene.owner, (at(1), DAY), key);
    let (id, mail) = (mail.id, Mail { state, ..mail });
    scene.write(move |tx, c| Ok(outbox::post(tx, c, &mail, at(0))?)).await.unwrap();
    id
}

/// What is told of a bow: each of these works on one part.
fn bow(bow: BowId, part: PartId, tasks: &[RuleTask]) -> ToldBow {
    let work =
        |&task: &RuleTask| ToldWork { part, part_kind: PartKind::Bowstring, task, by: Some(DAY) };
    let works = tasks.iter().map(work).collect();
    ToldBow { bow, stopped: false, works, change: ChangeWindow::Open }
}

/// An event of which the owner is told mail by mail.
struct Telling {
    scene: Scene,
    event: Event,
    raised: i64,
}

/// Takes up the mail that is due, which is one, and sends it.
fn send(tx: &mut Tx<'_>, now: Timestamp) -> Result<(), StoreError> {
    let (lease, pace) = (SignedDuration::from_mins(2), Pace { at_once: 100, per_minute: 60 });
    let claimed = outbox::claim(tx, now, lease, pace)?.mails;
    let [mail] = claimed.as_slice() else { panic!("{claimed:?}") };
    assert!(outbox::finish(tx, mail, &Outcome::Sent("250 taken".to_owned()), now)?);
    Ok(())
}

impl Telling {
    async fn of(scene: Scene) -> Self {
        let event = event(scene.owner, 100, 101);
        let telling = Self { scene, event, raised: 0 };
        Self { event: telling.add_event().await, ..telling }
    }

    async fn add_event(&self) -> Event {
        let event = event(self.scene.owner, 100, 101);
        let added = event.clone();
        self.scene.write(move |tx, c| Ok(events::add(tx, c, &added)?)).await.unwrap();
        event
    }

    /// A reminder of a bow, or of none, that was told on a day of May, in the order in which they are.
    async fn tells(&mut self, day: i8, of: Option<BowId>, bows: Vec<ToldBow>) {
        self.tells_at((self.raised + 1, self.raised + 1), day, of, bows).await;
    }

    /// The same, raised at a moment and in a mail that went out at another.
    async fn tells_at(
        &mut self,
        (raised, went): (i64, i64),
        day: i8,
        of: Option<BowId>,
        bows: Vec<ToldBow>,
    ) {
        self.raised += 1;
        let about = About::Event { event: self.event.id, bow: of };
        let (cycle, stage) = (event_cycle(self.event.dates.starts_on()), self.raised.to_string());
        let reminder = Reminder {
            id: invented::id(),
            about,
            recipient: self.scene.owner,
            dedupe_key: about.dedupe_key(&cycle, self.scene.owner, &stage),
            stage: stage.clone(),
            cycle,
            reason: "work before it".to_owned(),
            state: ReminderState::Raised,
            raised_at: at(raised),
            mail_id: mail(&self.scene, &stage, MailState::Due).await,
        };
        assert!(raise(&self.scene, &reminder).await);
        let told = self.told(day, bows);
        let keep = move |tx: &mut Tx<'_>, club| {
            send(tx, at(went))?;
            Ok(told::keep(tx, club, reminder.id, &told)?)
        };
        self.scene.write(keep).await.unwrap();
    }

    fn told(&self, day: i8, bows: Vec<ToldBow>) -> Told {
        Told {
            on: jiff::civil::date(2027, 5, day),
            starts_on: self.event.dates.starts_on(),
            ends_on: Some(self.event.dates.ends_on()),
            bows,
        }
    }

    async fn latest(&self) -> Option<Told> {
        let (event, owner) = (self.event.id, self.scene.owner);
        self.scene.read(move |read, club| told::latest(read, club, event, owner)).await
    }
}

#[tokio::test]
async fn what_somebody_knows_of_an_event_is_of_all_bows_since_it_was_put_right() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (blue, green) =
            (scene.strung_bow("blue", at(0)).await, scene.strung_bow("green", at(0)).await);
        let of_blue = |tasks: &[RuleTask]| bow(blue.bow.id, blue.string.id, tasks);
        let of_green = |tasks: &[RuleTask]| bow(green.bow.id, green.string.id, tasks);
        let (own, other) = (Some(blue.bow.id), Some(green.bow.id));
        let mut telling = Telling::of(scene).await;
        assert_eq!(telling.latest().await, None);
        telling.tells(1, own, vec![of_blue(&[RuleTask::Inspect])]).await;
        // That it was put right is told of no bow, and takes out what was told before.
        telling.tells(2, None, Vec::new()).await;
        assert_eq!(telling.latest().await, Some(telling.told(2, Vec::new())));
        // One mail on one day is kept by bow; a week later only one of them has work.
        telling.tells(8, own, vec![of_blue(&[RuleTask::Wax, RuleTask::CheckNockingPoint])]).await;
        telling.tells(8, other, vec![of_green(&[RuleTask::Wax])]).await;
        telling.tells(15, own, vec![of_blue(&[RuleTask::Wax])]).await;
        let blue = of_blue(&[RuleTask::Wax, RuleTask::CheckNockingPoint]);
        let all = telling.told(15, vec![blue.clone(), of_green(&[RuleTask::Wax])]);
        assert_eq!(telling.latest().await, Some(all));
        // What a coach is told of all bows is no more than that.
        telling.tells(16, None, vec![of_green(&[RuleTask::Wax]), of_blue(&[RuleTask::Wax])]).await;
        let all = telling.told(16, vec![of_green(&[RuleTask::Wax]), blue]);
        assert_eq!(telling.latest().await, Some(all));
    })
    .await;
}

#[tokio::test]
async fn what_was_told_counts_by_when_its_mail_went_out() {
    on_both(async |db| {
        let scene = db.scene().await;
        let blue = scene.strung_bow("blue", at(0)).await;
        let of_blue = vec![bow(blue.bow.id, blue.string.id, &[RuleTask::Wax])];
        let mut telling = Telling::of(scene).await;
        // When the bows were found and told, when the days were put right, and what was last.
        for (bows_at, right_at, bows_are_last) in [
            ((1, 1), (2, 2), false),
            ((1, 3), (2, 2), true),
            ((1, 2), (2, 2), false),
            ((1, 2), (1, 2), true),
        ] {
            telling.event = telling.add_event().await;
            telling.tells_at(bows_at, 8, Some(blue.bow.id), of_blue.clone()).await;
            telling.tells_at(right_at, 2, None, Vec::new()).await;
            let (bows, right) = (telling.told(8, of_blue.clone()), telling.told(2, Vec::new()));
            let last = if bows_are_last { bows } else { right };
            assert_eq!(telling.latest().await, Some(last), "{bows_at:?} {right_at:?}");
        }
    })
    .await;
}

#[tokio::test]
async fn the_first_mail_about_something_is_one_that_went_out() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let told = |stage: &str, mail: MailId, raised: i64| {
            let one = reminder(&scene, &about, scene.owner, "first");
            let dedupe_key = one.about.dedupe_key("first", scene.owner, stage);
            let (stage, raised_at) = (stage.to_owned(), at(raised));
            Reminder { stage, dedupe_key, raised_at, mail_id: mail, ..one }
        };
        let first = async |one: &Reminder| {
            let one = one.clone();
            let first = move |read: &mut Read<'_>, c: ClubId| threads::first_mail(read, c, &one);
            scene.read(first).await
        };
        let answered = [ReminderState::Done, ReminderState::Snoozed, ReminderState::Disowned];
        let mut now = told("last", mail(&scene, "last", MailState::Sent).await, 99);
        for (n, state) in (1..).zip(MailState::ALL.iter().filter(|one| **one != MailState::Sent)) {
            let one = told(state.as_str(), mail(&scene, state.as_str(), *state).await, n);
            assert!(raise(&scene, &one).await);
            let answer = answered[usize::try_from(n).unwrap() % answered.len()];
            let set = move |tx: &mut Tx<'_>, c| Ok(reminders::set_state(tx, c, one.id, answer)?);
            scene.write(set).await.unwrap();
            assert_eq!(first(&now).await, None, "{state} is not {}", MailState::Sent);
        }
        assert!(raise(&scene, &now).await);
        let (id, told) = (now.id, ReminderState::Sent);
        let set = move |tx: &mut Tx<'_>, c| Ok(reminders::set_state(tx, c, id, told)?);
        scene.write(set).await.unwrap();
        now.id = invented::id();
        assert_eq!(first(&now).await, Some(now.mail_id));
    })
    .await;
}
