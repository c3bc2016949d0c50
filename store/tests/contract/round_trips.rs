//! What is written is read back as it was: every column of every family, with and without what
//! may be missing, at both ends of its range, and in every spelling of every word.

use domain::{
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    clubs::Club,
    fittings::{Fitting, Host},
    incidents::IncidentKind,
    ledger::{LogKind, LogTime, ShotLog, Shots},
    mail::{Mail, MailKind, MailState},
    members::{Member, Role},
    parts::{Cost, End, Part, PartKind, Retirement, Start},
    reach::Reach,
    reminders::{About, Reminder, ReminderState},
    rules::{
        Combine, Condition, DayLimits, FindingTrigger, Limits, Material, Provenance, Rule,
        RuleTask, Scope, ShotLimits,
    },
    text::Name,
    time::{Zone, parse_instant},
    upkeep::{Finding, Grade, Upkeep, UpkeepTask},
};
use jiff::{
    Timestamp,
    civil::{date, time},
};
use store::{
    Page, StoreError, bows, clubs, fittings, ledger, members, outbox, parts, reminders, rules,
    upkeep,
};

use crate::{
    invented::{self, at, name, note, shot_log, stay, work},
    reminders::{Subject, raise, reminder},
    support::{Scene, on_both},
};

const EVERYTHING: Page = Page { after: None, limit: 1_000 };
/// Letters of several scripts, one of them outside of Unicode's first plane, and both quotes.
const WORDS: &str = "O'Neil \"Ægir\" 弓 🏹 \\ %_";

/// The ends of what a club can have on record, and one microsecond before and after an epoch: that
/// of SQLite's column is 1970, that of PostgreSQL's 2000.
fn times() -> Vec<Timestamp> {
    let times = [
        "1970-01-01T00:00:00Z",
        "1970-01-01T00:00:00.000001Z",
        "1999-12-31T23:59:59.999999Z",
        "2000-01-01T00:00:00Z",
        "2027-03-28T01:30:00.123456Z",
        "2199-12-31T23:59:59.999999Z",
    ];
    times.map(|text| parse_instant(text).unwrap()).to_vec()
}

#[tokio::test]
async fn clubs_are_read_back() {
    on_both(async |db| {
        let mut written = Vec::new();
        for (n, created_at) in (0..).zip(times()) {
            let zone = ["UTC", "Europe/Lisbon", "America/Argentina/Buenos_Aires"][n % 3];
            written.push(Club {
                name: name(WORDS),
                zone: Zone::parse(zone).unwrap(),
                digest_at: [time(0, 0, 0, 0), time(7, 30, 0, 0), time(23, 59, 0, 0)][n % 3],
                created_at,
                ..invented::club()
            });
        }
        let added = written.clone();
        let none_yet = db.store.write(move |tx| {
            let none = clubs::none_yet(tx)?;
            added.iter().try_for_each(|club| clubs::add(tx, club))?;
            Ok::<_, StoreError>((none, clubs::none_yet(tx)?))
        });
        assert_eq!(none_yet.await.unwrap(), (true, false));
        let read = db.store.read(|read| {
            let ids = clubs::ids(read)?;
            let all =
                ids.into_iter().map(|id| clubs::get(read, id)).collect::<Result<Vec<_>, _>>()?;
            let each: Result<Vec<_>, _> =
                all.iter().map(|club| clubs::get(read, club.id)).collect();
            Ok::<_, StoreError>((all, each?))
        });
        assert_eq!(read.await.unwrap(), (written.clone(), written));
    })
    .await;
}

#[tokio::test]
async fn members_and_their_sign_ins_are_read_back() {
    on_both(async |db| {
        let scene = db.scene().await;
        let mut written = Vec::new();
        for (&role, created_at) in Role::ALL.iter().cycle().zip(times()) {
            let zone = (role != Role::Coach).then(|| Zone::parse("Asia/Kathmandu").unwrap());
            written.push(Member { name: name(WORDS), zone, created_at, ..invented::member(role) });
        }
        let added = written.clone();
        scene
            .write(move |tx, club| {
                added.iter().try_for_each(|member| members::add(tx, club, member))?;
                Ok(members::allow_sign_in(tx, club, &added[1], "$argon2id$x".to_owned())?)
            })
            .await
            .unwrap();
        let read = scene.read(members::all).await;
        assert_eq!(read[1..], written);
        let (first, second) = (written[0].clone(), written[1].clone());
        let id = first.id;
        assert_eq!(scene.read(move |read, club| members::get(read, club, id)).await, first);
        let emails = [first.email, second.email];
        let [none, login] =
            scene.read(move |read, _| Ok(emails.map(|e| members::login(read, &e).unwrap()))).await;
        assert!(none.is_none());
        let login = login.unwrap();
        assert_eq!((login.club, login.member), (scene.club.id, second.id));
        assert_eq!(login.password_hash, "$argon2id$x");
    })
    .await;
}

#[tokio::test]
async fn an_address_signs_in_to_one_club_only() {
    on_both(async |db| {
        let (one, other) = (db.scene().await, db.scene().await);
        let member = invented::member(Role::Archer);
        for (scene, expected) in [(&one, true), (&other, false)] {
            let added = member.clone();
            let answer = scene.write(move |tx, club| {
                members::add(tx, club, &added)?;
                Ok(members::allow_sign_in(tx, club, &added, "x".to_owned())?)
            });
            assert_eq!(answer.await.is_ok(), expected);
        }
    })
    .await;
}

#[tokio::test]
async fn bows_are_read_back() {
    on_both(async |db| {
        let scene = db.scene().await;
        let people = [Some(scene.owner), None];
        let mut written = Vec::new();
        for (n, &division) in Division::ALL.iter().enumerate() {
            let length = [24.0, 90.0, 68.0 + 1.0 / 3.0][n % 3];
            let draw_weight = [1.0, 200.0, 38.1][n % 3];
            written.push(Bow {
                division,
                length: BowLengthIn::new(length).unwrap(),
                draw_weight: DrawWeightLbf::new(draw_weight).unwrap(),
                owner: people[n % 2],
                archer: people[n / 2 % 2],
                keeper: people[n / 4 % 2],
                created_at: times()[n],
                ..invented::bow(WORDS)
            });
        }
        let added = written.clone();
        scene
            .write(move |tx, club| Ok(added.iter().try_for_each(|bow| bows::add(tx, club, bow))?))
            .await
            .unwrap();
        assert_eq!(scene.read(bows::all).await, written);
        let pages = scene.read(move |read, club| {
            let first = bows::list(read, club, Page { after: None, limit: 2 })?;
            let after = first.last().map(|bow| bow.id.0);
            Ok([first, bows::list(read, club, Page { after, limit: 50 })?])
        });
        assert_eq!(pages.await.concat(), written);
    })
    .await;
}

/// A part of each kind, bare, and one with everything, retired in each of the ways.
fn all_parts() -> Vec<Part> {
    let bare = PartKind::ALL.iter().map(|&kind| invented::part(kind));
    let full = End::ALL.iter().zip(times()).enumerate().map(|(n, (&end, at))| Part {
        name: name(WORDS),
        material: Some(name(WORDS)),
        strands: Some([2, 18, 100][n % 3]),
        made_on: Some([date(1970, 1, 1), date(2024, 2, 29), date(2199, 12, 31)][n % 3]),
        start: Some(Start { shots: [0, 1, 1_000_000][n % 3], at }),
        unit_cost: Some(Cost::from_hundredths([0, 1_850, 100_000_000][n % 3])),
        retirement: Some(Retirement { at, end, reason: name(WORDS) }),
        created_at: at,
        ..invented::part(PartKind::Bowstring)
    });
    bare.chain(full).collect()
}

#[tokio::test]
async fn parts_are_read_back_also_when_they_are_retired_later() {
    on_both(async |db| {
        let scene = db.scene().await;
        let written = all_parts();
        for part in &written {
            scene.add_part(part.clone()).await;
        }
        let list = async || scene.read(|read, club| parts::list(read, club, EVERYTHING)).await;
        assert_eq!(list().await, written);
        let retirement = Retirement { at: times()[5], end: End::Lost, reason: name(WORDS) };
        let retired = written[0].clone().retire(retirement.clone(), &[]).unwrap();
        let part = written[0].clone();
        let kept = scene.write(move |tx, club| parts::retire(tx, club, part, retirement)).await;
        assert_eq!(kept.unwrap(), retired);
        let id = retired.id;
        assert_eq!(scene.read(move |read, club| parts::get(read, club, id)).await, retired);
        assert_eq!(list().await[1..], written[1..]);
    })
    .await;
}

#[tokio::test]
async fn fittings_are_read_back() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("blue").await;
        let string = scene.part(PartKind::Bowstring).await;
        let serving = scene.part(PartKind::CenterServing).await;
        let [first, second, .., last] = times()[..] else { panic!("too few times") };
        for (part, host) in [(&string, Host::Bow(bow.id)), (&serving, Host::Part(string.id))] {
            let written: [Fitting; 2] =
                [stay(part.id, host, first, Some(second)), stay(part.id, host, last, None)];
            for fitting in written {
                scene.try_fit(fitting).await.unwrap();
                let get = scene.read(move |read, club| fittings::get(read, club, fitting.id));
                assert_eq!(get.await, fitting);
            }
            let id = part.id;
            let read = scene.read(move |read, club| fittings::of_part(read, club, id)).await;
            assert_eq!(read, written);
        }
    })
    .await;
}

#[tokio::test]
async fn shot_logs_are_read_back() {
    on_both(async |db| {
        let scene = db.scene().await;
        let bow = scene.bow("blue").await;
        let mut written = Vec::new();
        for (n, (&kind, at)) in LogKind::ALL.iter().cycle().zip(times()).enumerate() {
            written.push(ShotLog {
                time: LogTime {
                    at,
                    stated: times()[5 - n],
                    date_only: n % 2 == 0,
                    skew_s: [None, Some(-86_400), Some(i64::from(i32::MAX) + 1)][n % 3],
                },
                shots: Shots::new([1, 2_000][n % 2]).unwrap(),
                kind,
                note: note(["", "two\nlines\tand a tab", WORDS][n % 3]),
                received_at: times()[(n + 1) % 6],
                ..shot_log(scene.owner, bow.id, at, 1)
            });
            scene.try_append(written[n].clone()).await.unwrap();
        }
        let read = scene.read(|read, club| ledger::list(read, club, None, EVERYTHING)).await;
        assert_eq!(read, written);
    })
    .await;
}

#[tokio::test]
async fn upkeep_is_read_back_oldest_first() {
    on_both(async |db| {
        let scene = db.scene().await;
        let string = scene.part(PartKind::Bowstring).await;
        let mut written = Vec::new();
        for (n, &task) in UpkeepTask::ALL.iter().enumerate() {
            let done = Upkeep {
                note: note(["", WORDS][n % 2]),
                received_at: times()[n % 6],
                ..work(scene.owner, string.id, task, times()[5 - n % 6])
            };
            let (part, added) = (string.clone(), done.clone());
            scene
                .write(move |tx, club| Ok(upkeep::record(tx, club, &part, &added)?))
                .await
                .unwrap();
            written.push(done);
        }
        written.sort_by_key(|done| (done.at, done.id));
        let id = string.id;
        assert_eq!(scene.read(move |read, club| upkeep::of_part(read, club, id)).await, written);
    })
    .await;
}

/// Limits with everything, and with as little as there can be.
fn limits() -> [(Option<ShotLimits>, Option<DayLimits>); 4] {
    let shots = ShotLimits { plan: 15_000, notice: 1_500, grace: 3_000, retire: Some(30_000) };
    let days = DayLimits { plan: Some(14), notice: 3, grace: 2, retire_months: Some(36) };
    let few_shots = ShotLimits { plan: 0, notice: 0, grace: 0, retire: None };
    let few_days = DayLimits { plan: None, notice: 0, grace: 0, retire_months: None };
    [(Some(shots), Some(days)), (Some(few_shots), None), (None, Some(few_days)), (None, None)]
}

#[tokio::test]
async fn rules_are_read_back() {
    on_both(async |db| {
        let scene = db.scene().await;
        let kinds_and_tasks = PartKind::ALL.iter().zip(RuleTask::ALL.iter().cycle());
        let mut written = scene.rules.clone();
        let scopes = [
            Scope::Club,
            Scope::Division(Division::Compound),
            Scope::Material(Material::new(Name::parse(WORDS).unwrap())),
            Scope::Squad(invented::id()),
            Scope::Bow(invented::id()),
        ];
        for (n, (&part_kind, &task)) in kinds_and_tasks.enumerate() {
            let (shots, days) = limits()[n % 4];
            let provenance = Provenance {
                set_at: times()[n % 6],
                set_by: (n % 2 == 0).then_some(scene.owner),
                source: WORDS.to_owned(),
            };
            let checks_at = if n % 2 == 0 { vec![] } else { vec![0, 50, u32::MAX >> 1] };
            let (id, version) = (invented::id(), 1);
            let finding = (n % 3 == 0).then(|| FindingTrigger {
                any_of: Finding::ALL.iter().copied().take(n % 4).collect(),
                from: [Grade::Light, Grade::Marked, Grade::Unsafe][n / 3 % 3],
            });
            let limits = Limits {
                combine: Combine::ALL[n % 2],
                shots,
                days,
                finding,
                incidents: IncidentKind::ALL.iter().copied().take(n % 3).collect(),
                event_notice_days: (n % 2 == 0).then_some(14),
                checks_at,
            };
            let scope = scopes[n % 5].clone();
            let effective_on = (n % 2 == 0).then_some(date(2027, 3, 14));
            written.push(Rule {
                id,
                part_kind,
                task,
                scope,
                limits,
                effective_on,
                version,
                provenance,
            });
        }
        let added = written[scene.rules.len()..].to_vec();
        scene
            .write(move |tx, club| {
                Ok(added.iter().try_for_each(|rule| rules::add(tx, club, rule))?)
            })
            .await
            .unwrap();
        assert_eq!(scene.book().await, written);
    })
    .await;
}

#[tokio::test]
async fn mail_is_read_back_in_every_state() {
    on_both(async |db| {
        let scene = db.scene().await;
        let mut written = Vec::new();
        for (n, &state) in MailState::ALL.iter().enumerate() {
            let mail = Mail {
                id: invented::id(),
                kind: MailKind::Digest,
                recipient: scene.owner,
                for_date: [date(1970, 1, 1), date(1999, 12, 31), date(2199, 12, 31)][n % 3],
                dedupe_key: format!("{WORDS} {n}"),
                state,
                wanted_at: times()[n % 6],
                due_at: times()[n % 6],
                attempt: i32::try_from(n).unwrap(),
                link: None,
            };
            let added = mail.clone();
            let post = scene.write(move |tx, club| Ok(outbox::post(tx, club, &added, at(0))?));
            assert_eq!(post.await.unwrap(), mail);
            let (club, outcome) = (scene.club.id, None);
            written.push(outbox::Posted { club, mail, outcome, tried_at: None, finished_at: None });
        }
        assert_eq!(scene.read(outbox::all).await, written);
    })
    .await;
}

#[tokio::test]
async fn reminders_are_read_back_in_every_state_and_stage() {
    on_both(async |db| {
        let scene = db.scene().await;
        let about = Subject::in_scene(&scene).await;
        let stages = [Condition::Nearing, Condition::Due, Condition::Overdue];
        let mut written = Vec::new();
        for (n, &task) in RuleTask::ALL.iter().enumerate() {
            let template = reminder(&scene, &about, scene.owner, &format!("{WORDS} {n}"));
            let About::Work { rule, part, bow, .. } = template.about else { panic!() };
            let one = Reminder {
                about: About::Work { rule, task, part, bow },
                stage: stages[n % 3].to_string(),
                reason: WORDS.to_owned(),
                state: ReminderState::ALL[n % 3],
                raised_at: times()[n % 6],
                ..template
            };
            assert!(raise(&scene, &one).await);
            written.push(one);
        }
        let read = scene
            .read(|read, club| {
                let any = reminders::Filter::default();
                reminders::list(read, club, &Reach::Everybody, &any, EVERYTHING)
            })
            .await;
        let read: Vec<Reminder> = read.into_iter().map(|one| one.reminder).collect();
        assert_eq!(read, written);
    })
    .await;
}

/// What stands in a row that somebody has changed by hand is named, not guessed at.
#[tokio::test]
async fn a_row_that_breaks_a_rule_of_the_domain_is_named() {
    on_both(async |db| {
        let scene: Scene = db.scene().await;
        let part = scene.part(PartKind::Bowstring).await;
        db.fresh.execute("UPDATE parts SET strands = -1");
        let (club, id) = (scene.club.id, part.id);
        let read = db.store.read(move |read| parts::get(read, club, id)).await;
        let Err(StoreError::Inconsistent { table, column, id, found }) = read else {
            panic!("{read:?}")
        };
        assert_eq!((table, column, id, found.as_str()), ("parts", "strands", part.id.0, "-1"));
    })
    .await;
}
