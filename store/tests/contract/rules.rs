//! The rule book: a changed rule comes back as it was kept, in its next version, and a rule that is taken
//! out of the book stays on record.

use domain::{
    parts::PartKind,
    rules::{DayLimits, Limits, Provenance, Rule, RuleTask, Scope, ShotLimits},
};
use store::{StoreError, rules};

use crate::{
    invented::{self, at},
    reminders::{Subject, raise, reminder},
    support::{Refused, Scene, on_both},
};

async fn change(scene: &Scene, rule: &Rule) -> Result<Rule, Refused> {
    let rule = rule.clone();
    scene.write(move |tx, club| Ok(rules::change(tx, club, &rule)?)).await
}

async fn withdraw(scene: &Scene, rule: &Rule) -> Result<(), Refused> {
    let rule = rule.clone();
    scene.write(move |tx, club| Ok(rules::withdraw(tx, club, &rule)?)).await
}

fn waxing(scene: &Scene) -> Rule {
    scene.rules.iter().find(|rule| rule.task == RuleTask::Wax).unwrap().clone()
}

#[tokio::test]
async fn a_changed_rule_comes_back_as_it_was_kept() {
    on_both(async |db| {
        let scene = db.scene().await;
        let rule = waxing(&scene);
        let set_by = Some(scene.owner);
        let wanted = Rule {
            limits: Limits {
                shots: Some(ShotLimits { plan: 1_000_000, notice: 0, grace: 7, retire: None }),
                days: Some(DayLimits {
                    plan: None,
                    notice: 60,
                    grace: 0,
                    retire_months: Some(120),
                }),
                ..rule.limits.clone()
            },
            provenance: Provenance { set_at: at(3), set_by, source: "our own".to_owned() },
            ..rule.clone()
        };
        let kept = change(&scene, &wanted).await.unwrap();
        assert_eq!(kept, Rule { version: 2, ..wanted.clone() });
        let id = rule.id;
        assert_eq!(scene.read(move |read, club| rules::get(read, club, id)).await, kept);
        // What is taken away is gone, not left as it was.
        let limits = Limits { shots: None, ..kept.limits.clone() };
        let bare = Rule { limits, ..kept.clone() };
        let kept = change(&scene, &bare).await.unwrap();
        assert_eq!(scene.read(move |read, club| rules::get(read, club, id)).await, kept);
        assert_eq!((kept.limits.shots, kept.version), (None, 3));
    })
    .await;
}

#[tokio::test]
async fn a_rule_that_was_changed_meanwhile_is_neither_changed_nor_withdrawn() {
    on_both(async |db| {
        let scene = db.scene().await;
        let as_read = waxing(&scene);
        change(&scene, &as_read).await.unwrap();
        let before = scene.book().await;
        for refused in
            [change(&scene, &as_read).await.err(), withdraw(&scene, &as_read).await.err()]
        {
            assert!(matches!(refused, Some(Refused::Store(StoreError::Changed))), "{refused:?}");
        }
        assert_eq!(scene.book().await, before);
    })
    .await;
}

#[tokio::test]
async fn a_rule_that_is_taken_out_of_the_book_stays_on_record() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        assert!(raise(&scene, &reminder(&scene, &about, scene.owner, "first")).await);
        let (before, rule) = (scene.book().await, waxing(&scene));
        withdraw(&scene, &rule).await.unwrap();
        let left = scene.book().await;
        assert_eq!(left.len(), before.len() - 1);
        assert!(left.iter().all(|one| one.id != rule.id));
        let id = rule.id;
        let kept = scene.read(move |read, club| rules::history(read, club, id)).await;
        let kept: Vec<(i32, bool)> =
            kept.iter().map(|setting| (setting.rule.version, setting.withdrawn)).collect();
        assert_eq!(kept, [(1, false), (2, true)]);
    })
    .await;
}

#[tokio::test]
async fn the_rule_for_a_work_is_found_by_kind_and_task() {
    on_both(async |db| {
        let scene = db.scene().await;
        let find = async |kind, task| {
            let work = (kind, task, &Scope::Club);
            scene
                .write(move |tx, club| Ok(rules::of_work_to_change(tx, club, work)?))
                .await
                .unwrap()
        };
        let rule = waxing(&scene);
        assert_eq!(find(PartKind::Bowstring, RuleTask::Wax).await, Some(rule.id));
        assert_eq!(find(PartKind::Cable, RuleTask::Wax).await, None);
        let cable = Rule { id: invented::id(), part_kind: PartKind::Cable, ..rule };
        let added = cable.clone();
        scene.write(move |tx, club| Ok(rules::add(tx, club, &added)?)).await.unwrap();
        assert_eq!(find(PartKind::Cable, RuleTask::Wax).await, Some(cable.id));
    })
    .await;
}
