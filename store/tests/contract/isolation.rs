//! One club sees nothing of another: every public function that takes a club is called with the
//! wrong one, and finds nothing, changes nothing, or says that there is no such thing.

use std::{collections::BTreeSet, path::Path};

use domain::{
    bows::Bow,
    clubs::Club,
    fittings::Host,
    ids::{ClubId, MailId},
    ledger::Correction,
    mail::{Mail, MailKind, MailState},
    members::{Member, Role},
    parts::{End, PartKind, Retirement},
    reminders::{Reminder, ReminderState},
    upkeep::UpkeepTask,
};
use store::{
    Page, Read, StoreError, Tx, bows, clubs, due, fittings, ledger, members, outbox, parts,
    reminders, rules, upkeep, wear,
};

use crate::{
    invented::{self, at, name, shot_log, stay, work},
    reminders::{Subject, raise, reminder},
    support::{Database, Refused, Scene, Strung, on_both},
};

const EVERYTHING: Page = Page { after: None, limit: 100 };

/// The public functions of a file that take a club.
fn takes_a_club(file: &Path) -> impl Iterator<Item = String> {
    let source = std::fs::read_to_string(file).unwrap();
    let takes = |function: &str| {
        let (signature, _body) = function.split_once('{').unwrap();
        let (called, _rest) = signature.split_once(['(', '<']).unwrap();
        let takes = signature.contains(": ClubId") || signature.contains(": &Club");
        takes.then(|| called.to_owned())
    };
    source.split("\npub fn ").skip(1).filter_map(takes).collect::<Vec<_>>().into_iter()
}

#[test]
fn every_public_function_that_takes_a_club_is_called_here() {
    let mut found = BTreeSet::new();
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut folders = vec![(source, None)];
    while let Some((folder, of)) = folders.pop() {
        for file in std::fs::read_dir(folder).unwrap() {
            let path = file.unwrap().path();
            let family = of
                .clone()
                .unwrap_or_else(|| path.file_stem().unwrap().to_str().unwrap().to_owned());
            if path.is_dir() {
                folders.push((path, Some(family)));
            } else {
                found.extend(takes_a_club(&path).map(|called| format!("{family}::{called}")));
            }
        }
    }
    assert!(found.contains("ledger::append") && found.len() > 30, "{found:?}");
    // Followed by a quote it is only a label.
    let goes_on = |c: char| c.is_alphanumeric() || c == '_' || c == '"';
    let called = |function: &String| {
        let files = [include_str!("isolation.rs"), include_str!("isolation_people.rs")];
        files.iter().any(|file| {
            file.split(function.as_str()).skip(1).any(|after| !after.starts_with(goes_on))
        })
    };
    let missing: Vec<String> = found.into_iter().filter(|function| !called(function)).collect();
    assert_eq!(missing, [""; 0]);
}

type List = Box<dyn FnOnce(&mut Read<'_>, ClubId) -> Result<String, StoreError> + Send>;

fn list<T: std::fmt::Debug, E>(found: Result<T, E>) -> Result<String, E> {
    found.map(|found| format!("{found:?}"))
}

/// A club with one of everything.
struct Theirs {
    scene: Scene,
    on: Strung,
    log: domain::ledger::ShotLog,
    mail: MailId,
    reminder: Reminder,
}

impl Theirs {
    async fn in_database(db: &Database) -> Self {
        let scene = db.scene().await;
        let on = scene.strung_bow("theirs", at(0)).await;
        let log = shot_log(scene.owner, on.bow.id, at(1), 72);
        scene.try_append(log.clone()).await.unwrap();
        scene.maintain(&on.string, UpkeepTask::Waxed, at(2)).await;
        let about = Subject::in_scene(&scene).await;
        let reminder = reminder(&scene, &about, scene.owner, "first");
        assert!(raise(&scene, &reminder).await);
        Self { mail: reminder.mail_id, scene, on, log, reminder }
    }

    /// Everything of theirs that can be read, as text.
    async fn all(&self) -> String {
        let lists = self.lists(&self.scene).await;
        let club = self.scene.club.clone();
        let due = self.scene.read(move |read, _| due::of_club(read, &club, at(3))).await;
        format!("{lists:#?} {due:#?}")
    }

    /// What each list function finds of theirs for a club.
    async fn lists(&self, scene: &Scene) -> Vec<(&'static str, String)> {
        let (bow, part, mail) = (self.on.bow.id, self.on.string.id, self.mail);
        let (to, keys) = (self.scene.owner, [self.reminder.dedupe_key.clone()]);
        let all: Vec<(&str, List)> = vec![
            ("bows::all", Box::new(move |r, c| list(bows::all(r, c)))),
            ("bows::list", Box::new(move |r, c| list(bows::list(r, c, EVERYTHING)))),
            (
                "fittings::under_bow",
                Box::new(move |r, c| list(fittings::under_bow(r, c, bow, at(1)))),
            ),
            (
                "fittings::changed_under_bow",
                Box::new(move |r, c| {
                    let changed = fittings::changed_under_bow(r, c, bow, at(0), at(1))?;
                    Ok(format!("{:?}", changed.then_some("changed").as_slice()))
                }),
            ),
            ("fittings::of_part", Box::new(move |r, c| list(fittings::of_part(r, c, part)))),
            ("ledger::list", Box::new(move |r, c| list(ledger::list(r, c, None, EVERYTHING)))),
            (
                "ledger of bow",
                Box::new(move |r, c| list(ledger::list(r, c, Some(&[bow]), EVERYTHING))),
            ),
            ("outbox::all", Box::new(move |r, c| list(outbox::all(r, c)))),
            ("parts::list", Box::new(move |r, c| list(parts::list(r, c, EVERYTHING)))),
            ("reminders::raised", Box::new(move |r, c| list(reminders::raised(r, c, &keys)))),
            (
                "reminders::list",
                Box::new(move |r, c| list(reminders::list(r, c, None, EVERYTHING))),
            ),
            (
                "reminders to",
                Box::new(move |r, c| list(reminders::list(r, c, Some(to), EVERYTHING))),
            ),
            ("reminders::of_mail", Box::new(move |r, c| list(reminders::of_mail(r, c, mail)))),
            ("upkeep::of_part", Box::new(move |r, c| list(upkeep::of_part(r, c, part)))),
            ("wear::readings", Box::new(move |r, c| list(wear::readings(r, c, part)))),
        ];
        let mut found = Vec::new();
        for (called, list) in all {
            found.push((called, scene.read(list).await));
        }
        found
    }
}

#[tokio::test]
async fn lists_show_nothing_of_another_club() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        for (called, found) in theirs.lists(&theirs.scene).await {
            assert!(found != "[]" && found != "{}", "{called} finds nothing to begin with");
        }
        let ours = db.scene().await;
        for (called, found) in theirs.lists(&ours).await {
            assert!(found == "[]" || found == "{}", "{called} finds {found}");
        }
        let (owner, rule) = (ours.owner, ours.rules[0].id);
        let members = ours.read(members::all).await;
        assert_eq!(members.iter().map(|member| member.id).collect::<Vec<_>>(), [owner]);
        let rules = ours.read(rules::of_club).await;
        assert_eq!((rules.len(), rules[0].id), (ours.rules.len(), rule));
        let club = ours.club.clone();
        assert_eq!(ours.read(move |read, _| due::of_club(read, &club, at(3))).await, []);
    })
    .await;
}

/// A club that is nothing but this id.
fn as_club(id: ClubId) -> domain::clubs::Club {
    domain::clubs::Club { id, ..invented::club() }
}

#[tokio::test]
async fn a_single_thing_of_another_club_is_not_there() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        let (bow, part, log) = (theirs.on.bow.id, theirs.on.string.id, theirs.log.id);
        let (fitting, member) = (theirs.on.string_on.id, theirs.scene.owner);
        let single = move |read: &mut Read<'_>, club: ClubId| {
            Ok::<_, StoreError>([
                ("bows::get", bows::get(read, club, bow).err()),
                ("due::of_parts", due::of_parts(read, &as_club(club), &[part], at(3)).err()),
                ("fittings::get", fittings::get(read, club, fitting).err()),
                ("ledger::effective", ledger::effective(read, club, log).err()),
                ("ledger::get", ledger::get(read, club, log).err()),
                ("members::get", members::get(read, club, member).err()),
                ("parts::get", parts::get(read, club, part).err()),
            ])
        };
        for (called, error) in theirs.scene.read(single).await {
            assert!(error.is_none(), "{called}: {error:?}");
        }
        let ours = db.scene().await;
        for (called, error) in ours.read(single).await {
            let not_found = matches!(error, Some(StoreError::NotFound { .. }));
            assert!(not_found, "{called}: {error:?}");
        }
        let absent: ClubId = invented::id();
        let found: Result<_, StoreError> = db.store.read(move |r| clubs::get(r, absent)).await;
        assert!(matches!(found, Err(StoreError::NotFound { what: "club" })), "{found:?}");
    })
    .await;
}

type Change = Box<dyn FnOnce(&mut Tx<'_>, ClubId) -> Result<(), Refused> + Send>;

/// What would change something of theirs, if the club were right.
fn changes(theirs: &Theirs, ours: &Scene) -> Vec<(&'static str, Change)> {
    let (bow, string) = (theirs.on.bow.id, theirs.on.string.clone());
    let (fitting, string_id) = (theirs.on.string_on.id, string.id);
    let fit = stay(string.id, Host::Bow(bow), at(-9), Some(at(-8)));
    let log = shot_log(ours.owner, bow, at(1), 9);
    let logs = [log.clone()];
    let correction =
        Correction { corrects: theirs.log.id, version: 1, log: log.clone(), void: false };
    let reminder = theirs.reminder.id;
    let retirement = Retirement { at: at(3), end: End::Worn, reason: name("frayed") };
    vec![
        ("fittings::fit", Box::new(move |tx, c| fittings::fit(tx, c, &fit))),
        (
            "fittings::take_off",
            Box::new(move |tx, c| fittings::take_off(tx, c, fitting, at(3)).map(drop)),
        ),
        ("ledger::append", Box::new(move |tx, c| Ok(ledger::append(tx, c, &log).map(drop)?))),
        (
            "ledger::append_all",
            Box::new(move |tx, c| Ok(ledger::append_all(tx, c, &logs).map(drop)?)),
        ),
        (
            "ledger::correct",
            Box::new(move |tx, c| Ok(ledger::correct(tx, c, &correction).map(drop)?)),
        ),
        (
            "parts::get_to_change",
            Box::new(move |tx, c| Ok(parts::get_to_change(tx, c, string_id).map(drop)?)),
        ),
        (
            "parts::retire",
            Box::new(move |tx, c| parts::retire(tx, c, string, retirement).map(drop)),
        ),
        (
            "reminders::set_state",
            Box::new(move |tx, c| {
                Ok(reminders::set_state(tx, c, reminder, ReminderState::Cancelled)?)
            }),
        ),
    ]
}

#[tokio::test]
async fn nothing_of_another_club_can_be_changed() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let before = theirs.all().await;
        for (called, change) in changes(&theirs, &ours) {
            let refused = ours.write(change).await;
            assert!(refused.is_err_and(|error| error.is_not_found()), "{called}");
            assert_eq!(theirs.all().await, before, "{called}");
        }
    })
    .await;
}

/// What is ours but names something of theirs.
fn namings(theirs: &Theirs, ours: &Scene, our: &Strung) -> Vec<(&'static str, Change)> {
    let (them, their) = (theirs.scene.owner, theirs.on.string.clone());
    let owned = domain::bows::Bow { owner: Some(them), ..invented::bow("ours") };
    let ridden = stay(their.id, Host::Bow(our.bow.id), at(-9), Some(at(-8)));
    let entered = shot_log(them, our.bow.id, at(1), 9);
    let on_theirs = shot_log(ours.owner, theirs.on.bow.id, at(1), 9);
    let our_log = shot_log(ours.owner, our.bow.id, at(1), 9);
    let moved = Correction { corrects: our_log.id, version: 1, log: on_theirs, void: false };
    let waxed = work(them, our.string.id, UpkeepTask::Waxed, at(1));
    let waxed_theirs = work(ours.owner, their.id, UpkeepTask::Waxed, at(1));
    let served = theirs.on.serving.clone();
    let re_served = work(ours.owner, served.id, UpkeepTask::ReServed, at(1));
    let (mut rule, string) = (ours.rules[0].clone(), our.string.clone());
    rule.id = invented::id();
    rule.provenance.set_by = Some(them);
    let mail = Mail {
        id: invented::id(),
        kind: MailKind::Digest,
        recipient: them,
        for_date: jiff::civil::date(2027, 3, 2),
        dedupe_key: "key".to_owned(),
        state: MailState::Due,
        due_at: at(1),
        attempt: 0,
        link: None,
    };
    let mut stranger = invented::member(Role::Archer);
    stranger.id = them;
    let raised = theirs.reminder.clone();
    vec![
        ("bows::add", Box::new(move |tx, c| Ok(bows::add(tx, c, &owned)?))),
        ("fittings::fit", Box::new(move |tx, c| fittings::fit(tx, c, &ridden))),
        ("ledger::append", Box::new(move |tx, c| Ok(ledger::append(tx, c, &entered).map(drop)?))),
        (
            "ledger::correct",
            Box::new(move |tx, c| {
                ledger::append(tx, c, &our_log)?;
                Ok(ledger::correct(tx, c, &moved).map(drop)?)
            }),
        ),
        (
            "members::allow_sign_in",
            Box::new(move |tx, c| Ok(members::allow_sign_in(tx, c, &stranger, "x".to_owned())?)),
        ),
        ("outbox::post", Box::new(move |tx, c| Ok(outbox::post(tx, c, &mail, at(0)).map(drop)?))),
        (
            "reminders::raise",
            Box::new(move |tx, c| Ok(reminders::raise(tx, c, &raised).map(drop)?)),
        ),
        ("rules::add", Box::new(move |tx, c| Ok(rules::add(tx, c, &rule)?))),
        ("upkeep::record", Box::new(move |tx, c| Ok(upkeep::record(tx, c, &string, &waxed)?))),
        (
            "upkeep::re_serve",
            Box::new(move |tx, c| upkeep::re_serve(tx, c, &served, &re_served).map(drop)),
        ),
        (
            "upkeep::record on theirs",
            Box::new(move |tx, c| Ok(upkeep::record(tx, c, &their, &waxed_theirs)?)),
        ),
    ]
}

#[tokio::test]
async fn nothing_of_ours_can_name_what_is_another_clubs() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let our = ours.strung_bow("ours", at(0)).await;
        assert_eq!(our.serving.kind, PartKind::CenterServing);
        let before = theirs.all().await;
        for (called, naming) in namings(&theirs, &ours, &our) {
            assert!(ours.write(naming).await.is_err(), "{called}");
            assert_eq!(theirs.all().await, before, "{called}");
        }
        assert_eq!(ours.shots(&our.string).await, 0);
    })
    .await;
}

#[tokio::test]
async fn what_has_the_same_id_in_another_club_is_another_thing() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        let before = theirs.all().await;
        let ours = Club { id: invented::id(), ..theirs.scene.club.clone() };
        let (id, added) = (ours.id, ours.clone());
        let Theirs { scene, on, log, .. } = &theirs;
        let member = Member { id: scene.owner, ..invented::member(Role::Archer) };
        let bow = Bow { owner: Some(member.id), ..on.bow.clone() };
        let (rule, part, fitting, log) =
            (scene.rules[0].clone(), on.string.clone(), on.string_on, log.clone());
        let wear = scene
            .write(move |tx, _| {
                clubs::add(tx, &added)?;
                members::add(tx, id, &member)?;
                bows::add(tx, id, &bow)?;
                parts::add(tx, id, &part)?;
                rules::add(tx, id, &rule)?;
                fittings::fit::<Refused>(tx, id, &fitting)?;
                assert_eq!(ledger::append(tx, id, &log)?.appended, ledger::Appended::New);
                Ok(wear::readings(tx, id, part.id)?)
            })
            .await
            .unwrap();
        assert_eq!(wear.iter().map(|reading| reading.shots).collect::<Vec<_>>(), [72, 72, 72]);
        assert_eq!(theirs.all().await, before);
    })
    .await;
}
