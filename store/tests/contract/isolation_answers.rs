//! The same for what people answer to their mail: with the wrong club nothing of it is found or changed.

use std::collections::BTreeSet;

use domain::{
    ids::{BowId, ClubId},
    mail::{Mail, MailKind},
    members::{Member, Role},
    reach::Reach,
    reminders::Reminder,
};
use store::{Page, Read, Tx, answers, disowned_bows, mails, members, reminders, stopped_mail};

use crate::{
    invented::at,
    reminders::{Subject, raise, reminder},
    support::{Database, Refused, Scene, on_both},
};

const EVERYTHING: Page = Page { after: None, limit: 100 };

/// A club with a reminder that was put off, a kind of mail that was stopped, and a bow that is nobody's.
struct Theirs {
    scene: Scene,
    reminder: Reminder,
    bow: BowId,
    mail: Mail,
    member: Member,
}

impl Theirs {
    async fn in_database(db: &Database) -> Self {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let member = scene.joins(Role::Archer).await;
        let one = reminder(&scene, &about, scene.owner, "first");
        assert!(raise(&scene, &one).await);
        let bow = one.about.bow().unwrap();
        let (of, who) = (one.clone(), member.clone());
        scene
            .write(move |tx, c| {
                assert!(stopped_mail::add(tx, c, who.id, MailKind::Digest, at(1))?.is_any());
                disowned_bows::add(tx, c, bow, who.id, at(1))?;
                Ok(answers::snooze(tx, c, &of, at(1), at(4))?)
            })
            .await
            .unwrap();
        Self { scene, reminder: one, bow, mail: about.mail, member }
    }

    /// What each reading function finds of theirs for a club.
    async fn found(&self, scene: &Scene) -> Vec<(&'static str, bool)> {
        let (reminder, bow, mail) = (self.reminder.id, self.bow, self.mail.id);
        let member = self.member.id;
        let found = move |r: &mut Read<'_>, c: ClubId| {
            let any = mails::Filter::default();
            Ok(vec![
                ("reminders::get", reminders::get(r, c, reminder).is_ok()),
                ("answers::snoozed", !answers::snoozed(r, c, at(2))?.is_empty()),
                ("stopped_mail::of_member", !stopped_mail::of_member(r, c, member)?.is_empty()),
                ("stopped_mail::of_club", !stopped_mail::of_club(r, c)?.is_empty()),
                ("disowned_bows::of_bow", !disowned_bows::of_bow(r, c, bow)?.is_empty()),
                ("disowned_bows::of_club", !disowned_bows::of_club(r, c)?.is_empty()),
                ("mails::some", !mails::some(r, c, &[mail])?.is_empty()),
                ("mails::list", !mails::list(r, c, &Reach::Everybody, any, EVERYTHING)?.is_empty()),
                ("members::names", members::names(r, c)?.contains_key(&member)),
            ])
        };
        scene.read(found).await
    }

    /// Everything of theirs, as text.
    async fn all(&self) -> String {
        let (reminder, member) = (self.reminder.id, self.member.id);
        let all = move |r: &mut Read<'_>, c: ClubId| {
            let one = reminders::get(r, c, reminder)?;
            let (stopped, not) = (stopped_mail::of_club(r, c)?, disowned_bows::of_club(r, c)?);
            let version = members::get(r, c, member)?.version;
            Ok(format!("{one:?} {stopped:?} {not:?} {version}"))
        };
        self.scene.read(all).await
    }
}

#[tokio::test]
async fn what_another_club_answered_is_not_found() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        for (called, found) in theirs.found(&theirs.scene).await {
            assert!(found, "{called} finds nothing to begin with");
        }
        let ours = db.scene().await;
        for (called, found) in theirs.found(&ours).await {
            assert!(!found, "{called}");
        }
    })
    .await;
}

type Change = Box<dyn FnOnce(&mut Tx<'_>, ClubId) -> Result<(), Refused> + Send>;

#[tokio::test]
async fn nothing_is_answered_for_another_club() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let before = theirs.all().await;
        let (one, bow, member) = (theirs.reminder.clone(), theirs.bow, theirs.member.clone());
        let (id, of, who) = (one.id, one.clone(), member.id);
        let changes: Vec<(&str, bool, Change)> = vec![
            (
                "answers::get_to_answer",
                true,
                Box::new(move |tx, c| Ok(answers::get_to_answer(tx, c, id).map(drop)?)),
            ),
            ("answers::done", true, Box::new(move |tx, c| Ok(answers::done(tx, c, id, at(2))?))),
            (
                "answers::snooze",
                false,
                Box::new(move |tx, c| Ok(answers::snooze(tx, c, &of, at(2), at(9))?)),
            ),
            (
                "answers::disown",
                false,
                Box::new(move |tx, c| Ok(answers::disown(tx, c, bow, one.recipient, at(2))?)),
            ),
            (
                "stopped_mail::set",
                true,
                Box::new(move |tx, c| {
                    Ok(stopped_mail::set(tx, c, who, BTreeSet::new(), at(2)).map(drop)?)
                }),
            ),
            (
                "stopped_mail::add",
                true,
                Box::new(move |tx, c| {
                    Ok(stopped_mail::add(tx, c, who, MailKind::Event, at(2)).map(drop)?)
                }),
            ),
            (
                "stopped_mail::remove",
                true,
                Box::new(move |tx, c| {
                    Ok(stopped_mail::remove(tx, c, who, MailKind::Digest, at(2)).map(drop)?)
                }),
            ),
            (
                "stopped_mail::newer_version",
                true,
                Box::new(move |tx, c| Ok(stopped_mail::newer_version(tx, c, who)?)),
            ),
            (
                "disowned_bows::add",
                true,
                Box::new(move |tx, c| Ok(disowned_bows::add(tx, c, bow, who, at(2))?)),
            ),
            (
                "disowned_bows::clear",
                false,
                Box::new(move |tx, c| Ok(disowned_bows::clear(tx, c, bow)?)),
            ),
        ];
        for (called, refused, change) in changes {
            assert_eq!(ours.write(change).await.is_err(), refused, "{called}");
            assert_eq!(theirs.all().await, before, "{called}");
        }
    })
    .await;
}
