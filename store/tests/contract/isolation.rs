//! One club sees nothing of another: every public function that takes a club is called with the
//! wrong one, and finds nothing, changes nothing, or says that there is no such thing.

use std::{collections::BTreeSet, path::Path};

use domain::{
    bows::Bow,
    clubs::Club,
    fittings::Host,
    ids::{ClubId, MailId, ShotLogId},
    incidents::IncidentKind,
    ledger::Correction,
    mail::{Mail, MailKind, MailState},
    members::{Member, Role},
    parts::{End, PartKind, Retirement},
    reach::Reach,
    reminders::{Reminder, ReminderState},
    rules::Rule,
    string_change::{NewString, StringChange},
    upkeep::UpkeepTask,
};
use store::{
    DatabaseUrl, Page, Read, StoreError, Tx, account, bows, clubs, doctor, due, fittings, hanging,
    incidents, ledger, members, outbox, parts, reminders,
    requests::{self, KeptAnswer, Known, Request},
    rules,
    sign_ins::{self, SignIn},
    squads, stops, string_change, upkeep, wear,
};

use crate::{
    invented::{self, at, incident, name, shot_log, stay, work},
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
        let files = [
            include_str!("feeds.rs"),
            include_str!("isolation.rs"),
            include_str!("isolation_answers.rs"),
            include_str!("isolation_credentials.rs"),
            include_str!("isolation_events.rs"),
            include_str!("isolation_mail.rs"),
            include_str!("isolation_people.rs"),
            include_str!("isolation_record.rs"),
            include_str!("isolation_stops.rs"),
        ];
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

/// Reminders to whom somebody reaches, whatever they are.
fn listed(
    read: &mut Read<'_>,
    club: ClubId,
    reach: &Reach,
) -> Result<Vec<reminders::Listed>, StoreError> {
    reminders::list(read, club, reach, &reminders::Filter::default(), EVERYTHING)
}

/// A club with one of everything.
struct Theirs {
    scene: Scene,
    on: Strung,
    log: domain::ledger::ShotLog,
    mail: MailId,
    reminder: Reminder,
    sign_in: SignIn,
}

/// A sign-in of somebody that lasts for the whole scene.
fn sign_in(member: domain::ids::MemberId) -> SignIn {
    let (created_at, expires_at) = (at(0), at(90));
    SignIn { id: invented::id(), member, generation: 0, created_at, expires_at, ended_at: None }
}

/// Plants a squad in which somebody is both coach and archer.
fn plant_squad(db: &Database, club: ClubId, member: domain::ids::MemberId) {
    let on_sqlite = matches!(db.fresh.url, DatabaseUrl::Sqlite(_));
    let key = |id: uuid::Uuid| {
        if on_sqlite { format!("X'{}'", id.simple()) } else { format!("'{id}'") }
    };
    let created_at = if on_sqlite { "0" } else { "'2027-03-01T12:00:00Z'" };
    let (club, squad, member) = (key(club.0), key(invented::id()), key(member.0));
    db.fresh.execute(&format!(
        "INSERT INTO squads (club_id, id, name, version, created_at)
         VALUES ({club}, {squad}, 'Invented juniors', 1, {created_at});
         INSERT INTO squad_members (club_id, squad_id, member_id, part)
         VALUES ({club}, {squad}, {member}, 'coach'), ({club}, {squad}, {member}, 'archer');"
    ));
}

impl Theirs {
    async fn in_database(db: &Database) -> Self {
        let scene = db.scene().await;
        let on = scene.strung_bow("theirs", at(0)).await;
        let log = shot_log(scene.owner, on.bow.id, at(1), 72);
        scene.try_append(log.clone()).await.unwrap();
        scene.maintain(&on.string, UpkeepTask::Waxed, at(2)).await;
        scene.happened(&on.bow, IncidentKind::DryFire, at(2)).await;
        let about = Subject::in_scene(&scene).await;
        let reminder = reminder(&scene, &about, scene.owner, "first");
        assert!(raise(&scene, &reminder).await);
        let sign_in = sign_in(scene.owner);
        scene.write(move |tx, club| Ok(sign_ins::add(tx, club, &sign_in)?)).await.unwrap();
        plant_squad(db, scene.club.id, scene.owner);
        Self { mail: reminder.mail_id, scene, on, log, reminder, sign_in }
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
        let (sign_in, log) = (self.sign_in.id, self.log.id);
        let mut all: Vec<(&str, List)> = vec![
            ("bows::all", Box::new(move |r, c| list(bows::all(r, c)))),
            ("bows::list", Box::new(move |r, c| list(bows::list(r, c, EVERYTHING)))),
            (
                "due::under_bows",
                Box::new(move |r, c| list(due::under_bows(r, &as_club(c), at(3), |_| true))),
            ),
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
            ("fittings::of_bow", Box::new(move |r, c| list(fittings::of_bow(r, c, bow)))),
            ("hanging::last_bows", Box::new(move |r, c| list(hanging::last_bows(r, c, &[part])))),
            (
                "incidents::list",
                Box::new(move |r, c| list(incidents::list(r, c, None, EVERYTHING))),
            ),
            (
                "incidents of bow",
                Box::new(move |r, c| list(incidents::list(r, c, Some(bow), EVERYTHING))),
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
            ("reminders::list", Box::new(move |r, c| list(listed(r, c, &Reach::Everybody)))),
            ("reminders to", Box::new(move |r, c| list(listed(r, c, &Reach::Own(to))))),
            ("reminders::of_mail", Box::new(move |r, c| list(reminders::of_mail(r, c, mail)))),
            (
                "sign_ins::standing",
                Box::new(move |r, c| {
                    let standing = sign_ins::standing(r, c, sign_in, at(3))?;
                    Ok(format!("{:?}", standing.as_slice()))
                }),
            ),
            ("squads::coaches", Box::new(move |r, c| list(squads::coaches(r, c)))),
            ("squads::coached_by", Box::new(move |r, c| list(squads::coached_by(r, c, to)))),
            ("upkeep::of_part", Box::new(move |r, c| list(upkeep::of_part(r, c, part)))),
            ("wear::readings", Box::new(move |r, c| list(wear::readings(r, c, part)))),
        ];
        all.extend(of_the_record(log));
        let mut found = Vec::new();
        for (called, list) in all {
            found.push((called, scene.read(list).await));
        }
        found
    }
}

/// What is read to write a club's record out, or to compare a file with it.
fn of_the_record(log: ShotLogId) -> [(&'static str, List); 3] {
    let some = move |r: &mut Read<'_>, c| Ok(format!("{:?}", ledger::some(r, c, &[log])?));
    [
        ("fittings::of_club", Box::new(|r, c| Ok(format!("{:?}", fittings::of_club(r, c)?)))),
        ("upkeep::of_club", Box::new(|r, c| list(upkeep::of_club(r, c)))),
        ("ledger::some", Box::new(some)),
    ]
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
        assert!(ours.read(stops::parts).await.is_empty());
        let standing = ours.write(|tx, c| Ok(stops::standing_to_change(tx, c)?)).await.unwrap();
        assert!(standing.parts.is_empty() && standing.bows.is_empty());
        let by_role = ours.read(members::roles).await;
        assert_eq!(by_role.keys().collect::<Vec<_>>(), [&ours.owner]);
        let members = ours.read(members::all).await;
        assert_eq!(members.iter().map(|member| member.id).collect::<Vec<_>>(), [owner]);
        let rules = ours.read(rules::book).await.last();
        assert_eq!((rules.len(), rules[0].id), (ours.rules.len(), rule));
        let club = ours.club.clone();
        assert_eq!(ours.read(move |read, _| due::of_club(read, &club, at(3))).await, []);
        let (club, by) = (ours.club.clone(), theirs.scene.rules.clone());
        assert_eq!(ours.read(move |read, _| due::of_club_by(read, &club, by, at(3))).await, []);
        ours.write(|tx, c| Ok(doctor::mend(tx, c)?)).await.unwrap();
        assert_eq!(ours.read(doctor::ledger).await.counters, 0);
        assert!(theirs.scene.read(doctor::ledger).await.counters > 0);
        let zone = ours.club.zone.clone();
        let in_force = ours.read(move |read, c| rules::in_force(read, c, at(3), &zone)).await;
        assert_eq!((in_force.len(), in_force[0].id), (ours.rules.len(), rule));
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
        let rule = theirs.scene.rules[0].id;
        let single = move |read: &mut Read<'_>, club: ClubId| {
            Ok::<_, StoreError>([
                ("bows::get", bows::get(read, club, bow).err()),
                ("due::of_parts", due::of_parts(read, &as_club(club), &[part], at(3)).err()),
                ("fittings::get", fittings::get(read, club, fitting).err()),
                ("ledger::effective", ledger::effective(read, club, log).err()),
                ("ledger::get", ledger::get(read, club, log).err()),
                ("members::get", members::get(read, club, member).err()),
                ("parts::get", parts::get(read, club, part).err()),
                ("rules::get", rules::get(read, club, rule).err()),
                ("rules::history", rules::history(read, club, rule).err()),
                ("account::of_part", account::of_part(read, &as_club(club), part, at(3)).err()),
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
    let correction = Correction {
        corrects: theirs.log.id,
        version: 1,
        log: log.clone(),
        void: false,
        merged_into: None,
    };
    let reminder = theirs.reminder.id;
    let renamed = Bow { name: name("ours now"), ..theirs.on.bow.clone() };
    let rule = theirs.scene.rules[0].clone();
    let retirement = Retirement { at: at(3), end: End::Worn, reason: name("frayed") };
    let happened = incident(ours.owner, bow, IncidentKind::DryFire, at(1));
    let restrung =
        a_string_change(ours.owner, NewString::Made(invented::part(PartKind::Bowstring)));
    vec![
        ("incidents::add", Box::new(move |tx, c| Ok(incidents::add(tx, c, &happened)?))),
        (
            "string_change::change",
            Box::new(move |tx, c| string_change::change(tx, c, bow, &restrung).map(drop)),
        ),
        ("bows::change", Box::new(move |tx, c| Ok(bows::change(tx, c, &renamed).map(drop)?))),
        (
            "clubs::change",
            Box::new(move |tx, _| Ok(clubs::change(tx, &as_club(invented::id())).map(drop)?)),
        ),
        ("rules::change", Box::new(move |tx, c| Ok(rules::change(tx, c, &rule).map(drop)?))),
        ("fittings::fit", Box::new(move |tx, c| fittings::fit(tx, c, &fit))),
        ("fittings::restore", Box::new(move |tx, c| fittings::restore(tx, c, &fit))),
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
            let not_there = |error: Refused| error.is_not_found() || error.is_changed();
            assert!(refused.is_err_and(not_there), "{called}");
            assert_eq!(theirs.all().await, before, "{called}");
        }
    })
    .await;
}

/// A change to that string on the third day.
fn a_string_change(by: domain::ids::MemberId, new: NewString) -> StringChange {
    let (servings, settings) = (Vec::new(), Vec::new());
    let (at, received_at) = (at(3), at(3));
    StringChange { at, new, old_end: None, servings, settings, entered_by: by, received_at }
}

#[tokio::test]
async fn a_rule_of_another_club_is_neither_changed_nor_removed_nor_in_the_way() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let before = theirs.scene.book().await;
        let (rule, same) = (before[0].clone(), before[0].clone());
        let work = (rule.part_kind, rule.task, rule.scope.clone());
        let changed = ours.write(move |tx, c| Ok(rules::change(tx, c, &rule)?)).await.err();
        let removed = ours.write(move |tx, c| Ok(rules::withdraw(tx, c, &same)?)).await.err();
        for refused in [changed, removed] {
            assert!(matches!(refused, Some(Refused::Store(StoreError::Changed))), "{refused:?}");
        }
        assert_eq!(theirs.scene.book().await, before);
        let same_work = |rule: &&Rule| (rule.part_kind, rule.task) == (work.0, work.1);
        let own = ours.rules.iter().find(same_work);
        let own = own.unwrap().clone();
        let there = ours
            .write(move |tx, c| {
                assert_eq!(rules::of_work(tx, c, (work.0, work.1, &work.2))?, Some(own.id));
                rules::withdraw(tx, c, &own)?;
                Ok(rules::of_work_to_change(tx, c, (work.0, work.1, &work.2))?)
            })
            .await
            .unwrap();
        assert_eq!(there, None);
    })
    .await;
}

/// What is ours but names something of theirs.
#[expect(clippy::too_many_lines, reason = "one line for each function")]
fn namings(theirs: &Theirs, ours: &Scene, our: &Strung) -> Vec<(&'static str, Change)> {
    let (them, their) = (theirs.scene.owner, theirs.on.string.clone());
    let owned = domain::bows::Bow { owner: Some(them), ..invented::bow("ours") };
    let ridden = stay(their.id, Host::Bow(our.bow.id), at(-9), Some(at(-8)));
    let entered = shot_log(them, our.bow.id, at(1), 9);
    let on_theirs = shot_log(ours.owner, theirs.on.bow.id, at(1), 9);
    let our_log = shot_log(ours.owner, our.bow.id, at(1), 9);
    let moved = Correction {
        corrects: our_log.id,
        version: 1,
        log: on_theirs,
        void: false,
        merged_into: None,
    };
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
        wanted_at: at(1),
        due_at: at(1),
        attempt: 0,
        link: None,
    };
    let mut stranger = invented::member(Role::Archer);
    stranger.id = them;
    let raised = theirs.reminder.clone();
    let our_bow = our.bow.id;
    let happened = incident(them, our_bow, IncidentKind::DryFire, at(1));
    let taken = a_string_change(ours.owner, NewString::Known(their.id));
    let (signed_in, asked) = (sign_in(them), request(them));
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
        ("incidents::add", Box::new(move |tx, c| Ok(incidents::add(tx, c, &happened)?))),
        (
            "string_change::change",
            Box::new(move |tx, c| string_change::change(tx, c, our_bow, &taken).map(drop)),
        ),
        (
            "requests::begin",
            Box::new(move |tx, c| Ok(requests::begin(tx, c, &asked, at(1)).map(drop)?)),
        ),
        ("sign_ins::add", Box::new(move |tx, c| Ok(sign_ins::add(tx, c, &signed_in)?))),
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
        assert_eq!(wear.iter().map(|reading| reading.shots).collect::<Vec<_>>(), [72; 5]);
        assert_eq!(theirs.all().await, before);
    })
    .await;
}

/// A request of somebody, under the same key each time.
fn request(member: domain::ids::MemberId) -> Request {
    let [route, key, body_hash] = ["POST /bows", "again", "hash"].map(str::to_owned);
    Request { member, route, key, body_hash }
}

/// An answer to it.
fn answer(body: &str) -> KeptAnswer {
    KeptAnswer { status: 201, location: None, etag: None, body: body.to_owned() }
}

#[tokio::test]
async fn an_answer_is_kept_for_the_club_that_asked() {
    on_both(async |db| {
        let theirs = db.scene().await;
        let ours = db.scene_of(invented::club(), Vec::new()).await;
        // The same id stands for a member of either club.
        let twin = Member { id: theirs.owner, ..invented::member(Role::Archer) };
        ours.write(move |tx, club| Ok(members::add(tx, club, &twin)?)).await.unwrap();
        let asked = request(theirs.owner);
        for (scene, body) in [(&theirs, "theirs"), (&ours, "ours")] {
            let asked = asked.clone();
            let begun = scene.write(move |tx, club| {
                let known = requests::begin(tx, club, &asked, at(1))?;
                requests::keep(tx, club, &asked, &answer(body))?;
                Ok(known)
            });
            assert_eq!(begun.await.unwrap(), Known::New, "{body}");
        }
        for (scene, body) in [(&theirs, "theirs"), (&ours, "ours")] {
            let asked = asked.clone();
            let again = scene.write(move |tx, c| Ok(requests::begin(tx, c, &asked, at(2))?));
            assert_eq!(again.await.unwrap(), Known::Again(answer(body)));
        }
    })
    .await;
}

#[tokio::test]
async fn a_coach_reaches_nobody_of_another_club() {
    on_both(async |db| {
        let (theirs, ours) = (db.scene().await, db.scene().await);
        plant_squad(&db, theirs.club.id, theirs.owner);
        let coach = ours.owner;
        let reach = ours.read(move |read, c| squads::reach(read, c, coach, Role::Coach)).await;
        assert_eq!(reach, Reach::Squads([coach].into()));
    })
    .await;
}
