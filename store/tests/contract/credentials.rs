//! What lets somebody in and for how long: devices that stay signed in, scripts, links that are mailed;
//! and forgetting all that when it is over.

use domain::{
    ids::ClubId,
    links::{Link, Purpose},
    mail::{MailKind, MailState},
    members::{EmailAddress, Member, Role},
    script_tokens::{Scope, ScriptToken},
};
use jiff::{SignedDuration, Timestamp, civil::date};
use store::{
    StoreError, Tx, access, links, members,
    outbox::{self, Outcome, Pace},
    requests::{self, KeptAnswer, Known, Request},
    script_tokens::{self, Bearer},
    sign_ins::{self, Refreshed, SignIn},
};

use crate::{
    invented::{self, at, name},
    people::sign_in,
    support::{Database, Scene, on_both},
};

pub(crate) fn token(member: &Member) -> ScriptToken {
    ScriptToken {
        id: invented::id(),
        member: member.id,
        name: name("Phone of the \u{5f13} bench"),
        scope: Scope::Log,
        created_at: at(0),
        last_used_on: None,
        revoked_at: None,
    }
}

impl Scene {
    async fn signs_in(&self, member: &Member) -> SignIn {
        let device = sign_in(member);
        self.write(move |tx, club| Ok(sign_ins::add(tx, club, &device)?)).await.unwrap();
        device
    }

    async fn refreshes(&self, device: &SignIn, generation: i32, now: Timestamp) -> Refreshed {
        let (of, until) = ((device.id, generation), now + SignedDuration::from_hours(24));
        self.write(move |tx, club| Ok(sign_ins::refresh(tx, club, of, until, now)?)).await.unwrap()
    }

    async fn stands(&self, device: &SignIn, now: Timestamp) -> bool {
        let id = device.id;
        self.read(move |read, club| sign_ins::standing(read, club, id, now)).await.is_some()
    }

    async fn leaves(&self, member: &Member) {
        let left = Member { left_at: Some(at(0)), ..member.clone() };
        self.write(move |tx, club| Ok(members::change(tx, club, &left)?)).await.unwrap();
    }

    async fn adds_token(&self, token: &ScriptToken, hash: &'static str) {
        let token = token.clone();
        self.write(move |tx, club| Ok(script_tokens::add(tx, club, &token, hash)?)).await.unwrap();
    }
}

async fn bearer(db: &Database, hash: &'static str) -> Option<Bearer> {
    let found: Result<_, StoreError> =
        db.store.read(move |read| script_tokens::bearer(read, hash)).await;
    found.unwrap()
}

#[tokio::test]
async fn a_generation_is_exchanged_once_and_its_second_coming_ends_the_sign_in() {
    on_both(async |db| {
        let scene = db.scene().await;
        let member = scene.joins(Role::Archer).await;
        let (device, other) = (scene.signs_in(&member).await, scene.signs_in(&member).await);
        let first = scene.refreshes(&device, 0, at(1)).await;
        let expected = SignIn { generation: 1, expires_at: at(2), ..device };
        assert_eq!(first, Refreshed::Rotated(expected));
        // A generation that was never handed out changes nothing.
        assert_eq!(scene.refreshes(&device, 5, at(1)).await, Refreshed::Gone);
        assert!(scene.stands(&device, at(1)).await);
        let second = scene.refreshes(&device, 1, at(1)).await;
        assert_eq!(second, Refreshed::Rotated(SignIn { generation: 2, ..expected }));
        assert_eq!(scene.refreshes(&device, 0, at(1)).await, Refreshed::Replayed);
        assert!(!scene.stands(&device, at(1)).await);
        // Nor does the newest one work any more; another device's still does.
        assert_eq!(scene.refreshes(&device, 2, at(1)).await, Refreshed::Gone);
        assert!(scene.stands(&other, at(1)).await);
        assert!(matches!(scene.refreshes(&other, 0, at(1)).await, Refreshed::Rotated(_)));
    })
    .await;
}

#[tokio::test]
async fn of_two_that_come_at_once_with_one_generation_one_is_a_replay() {
    on_both(async |db| {
        let scene = db.scene().await;
        let member = scene.joins(Role::Archer).await;
        for _ in 0..10 {
            let device = scene.signs_in(&member).await;
            let both = tokio::join!(
                scene.refreshes(&device, 0, at(1)),
                scene.refreshes(&device, 0, at(1))
            );
            let rotated = |one: &Refreshed| matches!(one, Refreshed::Rotated(_));
            assert!(rotated(&both.0) != rotated(&both.1), "{both:?}");
            assert!(both.0 == Refreshed::Replayed || both.1 == Refreshed::Replayed, "{both:?}");
            assert!(!scene.stands(&device, at(1)).await);
        }
    })
    .await;
}

#[tokio::test]
async fn who_left_or_came_too_late_or_signed_out_is_not_let_go_on() {
    on_both(async |db| {
        let scene = db.scene().await;
        let member = scene.joins(Role::Archer).await;
        let [late, out, left] = [
            scene.signs_in(&member).await,
            scene.signs_in(&member).await,
            scene.signs_in(&member).await,
        ];
        let expired = scene.refreshes(&late, 0, late.expires_at).await;
        assert_eq!(expired, Refreshed::Gone);
        for _ in 0..2 {
            scene.write(move |tx, club| Ok(sign_ins::end(tx, club, out.id, at(1))?)).await.unwrap();
            assert_eq!(scene.refreshes(&out, 0, at(1)).await, Refreshed::Gone);
        }
        scene.leaves(&member).await;
        assert_eq!(scene.refreshes(&left, 0, at(1)).await, Refreshed::Gone);
    })
    .await;
}

#[tokio::test]
async fn a_token_is_known_by_its_hash_until_it_is_revoked_or_its_member_leaves() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (ada, ben) = (scene.joins(Role::Archer).await, scene.joins(Role::Coach).await);
        let (first, second) = (token(&ada), ScriptToken { scope: Scope::Read, ..token(&ben) });
        scene.adds_token(&first, "hash of the first").await;
        scene.adds_token(&second, "hash of the second").await;
        let found = bearer(&db, "hash of the first").await.unwrap();
        assert_eq!(
            (found.club, found.member, found.role, found.token, found.scope),
            (scene.club.id, ada.id, Role::Archer, first.id, Scope::Log)
        );
        assert_eq!((&found.zone, found.last_used_on), (&scene.club.zone, None));
        assert_eq!(bearer(&db, "hash of neither").await, None);

        let (id, day) = (first.id, date(2027, 3, 2));
        scene.write(move |tx, c| Ok(script_tokens::used(tx, c, id, day)?)).await.unwrap();
        let used = ScriptToken { last_used_on: Some(day), ..first.clone() };
        let member = ada.id;
        let listed = scene.read(move |read, c| script_tokens::of_member(read, c, member)).await;
        assert_eq!(listed, std::slice::from_ref(&used));
        assert_eq!(bearer(&db, "hash of the first").await.unwrap().last_used_on, Some(day));

        for moment in [at(2), at(3)] {
            scene.write(move |tx, c| Ok(script_tokens::revoke(tx, c, id, moment)?)).await.unwrap();
        }
        let kept = scene.read(move |read, c| script_tokens::get(read, c, id)).await;
        assert_eq!(kept, ScriptToken { revoked_at: Some(at(2)), ..used });
        let listed = scene.read(move |read, c| script_tokens::of_member(read, c, member)).await;
        assert_eq!(listed, []);
        assert_eq!(bearer(&db, "hash of the first").await, None);

        scene.leaves(&ben).await;
        assert_eq!(bearer(&db, "hash of the second").await, None);
        let again = token(&ada);
        let taken =
            scene.write(move |tx, c| Ok(script_tokens::add(tx, c, &again, "hash of the second")?));
        assert!(taken.await.is_err(), "two tokens cannot be known by one hash");
    })
    .await;
}

fn add_link(tx: &mut Tx<'_>, club: ClubId, link: &Link) -> Result<(), StoreError> {
    links::add(tx, club, link)
}

#[tokio::test]
async fn a_link_is_used_up_once_and_takes_its_like_with_it() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (ada, ben) = (scene.joins(Role::Archer).await, scene.joins(Role::Archer).await);
        let link = |member: &Member, purpose| Link::new(invented::id(), member.id, purpose, at(0));
        let first = link(&ada, Purpose::Reset);
        let alike = link(&ada, Purpose::Reset);
        let others = [link(&ada, Purpose::Invitation), link(&ben, Purpose::Reset)];
        let all = [first, alike, others[0], others[1]];
        scene
            .write(move |tx, c| Ok(all.iter().try_for_each(|link| add_link(tx, c, link))?))
            .await
            .unwrap();
        let get = |link: &Link| {
            let id = link.id;
            scene.read(move |read, c| links::get(read, c, id))
        };
        let use_up = |link: &Link, now| {
            let id = link.id;
            scene.write(move |tx, c| Ok(links::use_up(tx, c, id, now)?))
        };
        assert_eq!(get(&first).await, first);
        assert!(!use_up(&first, first.expires_at).await.unwrap(), "it has run out");
        assert_eq!(get(&alike).await, alike);
        let soon = at(0) + SignedDuration::from_mins(1);
        let both = tokio::join!(use_up(&first, soon), use_up(&first, soon));
        assert_eq!([both.0.unwrap(), both.1.unwrap()].iter().filter(|used| **used).count(), 1);
        for used in [first, alike] {
            assert_eq!(get(&used).await, Link { used_at: Some(soon), ..used });
            assert!(!use_up(&used, soon).await.unwrap());
        }
        for other in others {
            assert_eq!(get(&other).await, other);
        }
    })
    .await;
}

#[tokio::test]
async fn a_reset_is_a_link_and_its_mail_and_a_login_is_for_one_address() {
    on_both(async |db| {
        let (scene, elsewhere) = (db.scene().await, db.scene().await);
        let (ada, ben) = (scene.joins(Role::Archer).await, elsewhere.joins(Role::Archer).await);
        let to = ada.clone();
        let link =
            scene.write(move |tx, c| Ok(links::send_reset(tx, c, &to, at(0))?)).await.unwrap();
        assert_eq!((link.purpose, link.member), (Purpose::Reset, ada.id));
        let mails = scene.read(outbox::all).await;
        let mail = &mails[0].mail;
        assert_eq!((mails.len(), mail.kind, mail.due_at), (1, MailKind::Reset, at(0)));
        assert_eq!((mail.link, mail.recipient), (Some(link.id), ada.id));

        let join = |scene: &Scene, member: &Member, hash: &'static str| {
            let (scene, member) = (scene.clone(), member.clone());
            async move {
                scene.write(move |tx, c| Ok(access::join(tx, c, &member, hash)?)).await.unwrap()
            }
        };
        assert!(join(&scene, &ada, "first").await);
        assert!(!join(&scene, &ada, "again").await);
        assert!(!join(&elsewhere, &Member { email: ada.email.clone(), ..ben.clone() }, "x").await);
        let set = |member: &Member| {
            let id = member.id;
            scene.write(move |tx, c| Ok(access::set_password(tx, c, id, "second")?))
        };
        set(&ada).await.unwrap();
        set(&ben).await.unwrap_err();
        let address: EmailAddress = ada.email.clone();
        let login: Result<_, StoreError> =
            db.store.read(move |read| members::login(read, &address)).await;
        let login = login.unwrap().unwrap();
        assert_eq!((login.club, login.member), (scene.club.id, ada.id));
        assert_eq!(login.password_hash, "second");
    })
    .await;
}

/// How many rows of each kind are forgotten that are older than a moment.
async fn forget(db: &Database, before: Timestamp) -> [usize; 3] {
    let forgotten: Result<_, StoreError> = db
        .store
        .write(move |tx| {
            Ok([
                requests::forget(tx, before)?,
                sign_ins::forget(tx, before)?,
                links::forget(tx, before)?,
            ])
        })
        .await;
    forgotten.unwrap()
}

#[tokio::test]
async fn what_is_over_is_forgotten_in_every_club_and_nothing_else() {
    on_both(async |db| {
        for scene in [db.scene().await, db.scene().await] {
            let member = scene.joins(Role::Archer).await;
            let (stands, ended) = (scene.signs_in(&member).await, scene.signs_in(&member).await);
            assert!(stands.expires_at > at(20));
            scene.write(move |tx, c| Ok(sign_ins::end(tx, c, ended.id, at(1))?)).await.unwrap();
            let (to, by) = (member.clone(), member.id);
            scene
                .write(move |tx, club| {
                    links::send_reset(tx, club, &to, at(0))?;
                    let request = Request {
                        member: by,
                        route: "POST /x".to_owned(),
                        key: "k".to_owned(),
                        body_hash: "h".to_owned(),
                    };
                    assert_eq!(requests::begin(tx, club, &request, at(0))?, Known::New);
                    let (location, etag) = (None, None);
                    let answer = KeptAnswer { status: 204, location, etag, body: String::new() };
                    Ok(requests::keep(tx, club, &request, &answer)?)
                })
                .await
                .unwrap();
        }
        assert_eq!(forget(&db, at(-1)).await, [0, 0, 0]);
        // The mails have not gone out: they still name their links.
        assert_eq!(forget(&db, at(20)).await, [2, 2, 0]);
        let pace = Pace { at_once: 9, per_minute: 60 };
        let claim =
            move |tx: &mut Tx<'_>| outbox::claim(tx, at(21), SignedDuration::from_mins(1), pace);
        let claimed: Result<_, StoreError> = db.store.write(claim).await;
        let mut claimed = claimed.unwrap().mails;
        assert_eq!(claimed.len(), 2);
        let done = claimed.pop().unwrap();
        let finished: Result<bool, StoreError> = db
            .store
            .write(move |tx| {
                outbox::finish(tx, &done, &Outcome::Cancelled("it ran out".to_owned()), at(21))
            })
            .await;
        assert!(finished.unwrap());
        assert_eq!(forget(&db, at(20)).await, [0, 0, 1]);
        let left = claimed[0].clone();
        let mails: Result<_, StoreError> =
            db.store.read(move |read| outbox::all(read, left.club)).await;
        let mail = mails.unwrap().remove(0).mail;
        assert_eq!((mail.state, mail.link), (MailState::Sending, claimed[0].mail.link));
        let links = db.fresh.texts("SELECT CAST(COUNT(*) AS TEXT) AS text FROM one_time_links");
        assert_eq!(links, ["1"]);
        let sign_ins = db.fresh.texts("SELECT CAST(COUNT(*) AS TEXT) AS text FROM sign_ins");
        assert_eq!(sign_ins, ["2"]);
        // A year on the ones that nobody ended have run out too.
        assert_eq!(forget(&db, at(400)).await, [0, 2, 0]);
    })
    .await;
}
