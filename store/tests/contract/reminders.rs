//! Reminders: raised once, listed by club, recipient and mail, and where each of them stands.

use domain::{
    ids::{BowId, ClubId, MemberId, PartId},
    mail::{Mail, MailKind, digest_key},
    members::Role,
    parts::PartKind,
    reach::Reach,
    reminders::{About, Reminder, ReminderState, work_stage},
    rules::{Condition, RuleTask},
};
use store::{
    Page, Read, members, outbox,
    reminders::{self, Filter},
};

use crate::{
    invented::{self, at},
    support::{Scene, on_both},
};

/// What a reminder needs to be about: a part of a bow, and a mail that carries it.
pub(crate) struct Subject {
    part: PartId,
    bow: BowId,
    pub(crate) mail: Mail,
}

impl Subject {
    pub(crate) async fn in_scene(scene: &Scene) -> Self {
        let on = scene.strung_bow("blue", at(0)).await;
        let mail = digest(scene, 2).await;
        Self { part: on.string.id, bow: on.bow.id, mail }
    }
}

/// A posted digest to the owner for a day of March 2027.
async fn digest(scene: &Scene, day: i8) -> Mail {
    let on = jiff::civil::date(2027, 3, day);
    let (id, key) = (invented::id(), digest_key(scene.owner, on));
    let mail = Mail::new(id, MailKind::Digest, scene.owner, (at(1), on), key);
    let posted = mail.clone();
    scene.write(move |tx, club| Ok(outbox::post(tx, club, &posted, at(0))?)).await.unwrap();
    mail
}

/// A reminder to wax, to somebody, in a cycle.
pub(crate) fn reminder(scene: &Scene, about: &Subject, to: MemberId, cycle: &str) -> Reminder {
    let rule = scene.rules.iter().find(|rule| rule.part_kind == PartKind::Bowstring).unwrap();
    let (part, bow) = (about.part, about.bow);
    let about_work = About::Work { rule: rule.id, task: RuleTask::Wax, part, bow };
    Reminder {
        id: invented::id(),
        about: about_work,
        recipient: to,
        stage: work_stage(Condition::Due),
        cycle: cycle.to_owned(),
        reason: "520 shots and never waxed; plan 500".to_owned(),
        dedupe_key: about_work.dedupe_key(cycle, to, "due"),
        state: ReminderState::Raised,
        raised_at: at(1),
        mail_id: about.mail.id,
    }
}

pub(crate) async fn raise(scene: &Scene, reminder: &Reminder) -> bool {
    let reminder = reminder.clone();
    scene.write(move |tx, club| Ok(reminders::raise(tx, club, &reminder)?)).await.unwrap()
}

async fn list(scene: &Scene, to: &Reach, page: Page) -> Vec<Reminder> {
    let to = to.clone();
    let listed = move |read: &mut Read<'_>, club: ClubId| {
        reminders::list(read, club, &to, &Filter::default(), page)
    };
    scene.read(listed).await.into_iter().map(|one| one.reminder).collect()
}

const EVERYTHING: Page = Page { after: None, limit: 100 };

#[tokio::test]
async fn the_same_reminder_is_raised_once() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let first = reminder(&scene, &about, scene.owner, "first");
        assert!(raise(&scene, &first).await);
        assert!(!raise(&scene, &first).await, "the same row");
        let mut reworded = reminder(&scene, &about, scene.owner, "first");
        reworded.reason = "533 shots and never waxed; plan 500".to_owned();
        assert!(!raise(&scene, &reworded).await, "another id, the same key");
        let next = reminder(&scene, &about, scene.owner, "2027-03-05T12:00:00Z");
        assert!(raise(&scene, &next).await);
        assert_eq!(
            list(&scene, &Reach::Everybody, EVERYTHING).await,
            [first.clone(), next.clone()]
        );
        let asked = [first.dedupe_key, "another key".to_owned(), next.dedupe_key];
        let expected = [asked[0].clone(), asked[2].clone()].into();
        let raised = scene.read(move |read, club| reminders::raised(read, club, &asked)).await;
        assert_eq!(raised, expected);
    })
    .await;
}

#[tokio::test]
async fn reminders_are_listed_by_recipient_and_page_in_the_order_they_were_raised() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let coach = invented::member(Role::Coach);
        let (second, added) = (coach.id, coach.clone());
        scene.write(move |tx, club| Ok(members::add(tx, club, &added)?)).await.unwrap();
        let mut raised = Vec::new();
        for n in 0..9 {
            let to = if n % 3 == 0 { second } else { scene.owner };
            let one = reminder(&scene, &about, to, &format!("cycle {n}"));
            assert!(raise(&scene, &one).await);
            raised.push(one);
        }
        let squad = [second].into();
        let both = [second, scene.owner].into();
        for to in [
            Reach::Everybody,
            Reach::Own(scene.owner),
            Reach::Own(second),
            Reach::Squads(squad),
            Reach::Squads(both),
        ] {
            let wanted = |one: &&Reminder| to.member(one.recipient);
            let expected: Vec<Reminder> = raised.iter().filter(wanted).cloned().collect();
            let (mut paged, mut after) = (Vec::new(), None);
            loop {
                let page = list(&scene, &to, Page { after, limit: 2 }).await;
                let Some(last) = page.last() else { break };
                after = Some(last.id.0);
                assert!(page.len() <= 2);
                paged.extend(page);
            }
            assert_eq!(paged, expected);
        }
    })
    .await;
}

#[tokio::test]
async fn a_mail_knows_what_it_carries() {
    on_both(async |db| {
        let scene = db.scene().await;
        let mut about = Subject::in_scene(&scene).await;
        let first = [
            reminder(&scene, &about, scene.owner, "a"),
            reminder(&scene, &about, scene.owner, "b"),
        ];
        about.mail = digest(&scene, 3).await;
        let second = [reminder(&scene, &about, scene.owner, "c")];
        for one in first.iter().chain(&second) {
            assert!(raise(&scene, one).await);
        }
        for carried in [&first[..], &second] {
            let mail = carried[0].mail_id;
            let found = scene.read(move |read, club| reminders::of_mail(read, club, mail)).await;
            assert_eq!(found, carried);
        }
    })
    .await;
}

#[tokio::test]
async fn a_reminder_stands_where_it_was_put_and_is_raised_again_unless_it_was_told() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let one = reminder(&scene, &about, scene.owner, "first");
        let other = reminder(&scene, &about, scene.owner, "second");
        assert!(raise(&scene, &one).await && raise(&scene, &other).await);
        for &state in ReminderState::ALL {
            let id = one.id;
            scene
                .write(move |tx, club| Ok(reminders::set_state(tx, club, id, state)?))
                .await
                .unwrap();
            let moved = Reminder { state, ..one.clone() };
            assert_eq!(list(&scene, &Reach::Everybody, EVERYTHING).await, [moved, other.clone()]);
            let asked = [one.dedupe_key.clone()];
            let known = scene.read(move |read, club| reminders::raised(read, club, &asked)).await;
            // One that is put off without an end is in nobody's way.
            let anew = !matches!(state, ReminderState::Raised | ReminderState::Sent);
            assert_eq!(known.is_empty(), anew, "{state}");
            let again = Reminder { reason: "true once more".to_owned(), ..one.clone() };
            assert_eq!(raise(&scene, &again).await, anew, "{state}");
            if anew {
                assert_eq!(
                    list(&scene, &Reach::Everybody, EVERYTHING).await,
                    [again, other.clone()]
                );
            }
        }
    })
    .await;
}
