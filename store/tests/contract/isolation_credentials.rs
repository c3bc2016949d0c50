//! The same for what lets somebody in: with the wrong club no sign-in, link, token or password is found,
//! changed or given out.

use domain::{
    ids::ClubId,
    links::{Link, Purpose},
    mail::{Act, ActLink, MailKind, QuietLink},
    members::{Member, Role},
    script_tokens::ScriptToken,
};
use store::{
    Read, StoreError, Tx, access, links, mail_links, members, script_tokens,
    seals::Seals,
    sign_ins,
    sign_ins::{Refreshed, SignIn},
};

use crate::{
    credentials::token,
    invented::{self, at},
    people::sign_in,
    support::{Database, Refused, Scene, on_both},
};

/// A club with a member who signed in, has a script, and was mailed a link.
struct Theirs {
    scene: Scene,
    member: Member,
    device: SignIn,
    token: ScriptToken,
    link: Link,
}

impl Theirs {
    async fn in_database(db: &Database) -> Self {
        let scene = db.scene().await;
        let member = scene.joins(Role::Coach).await;
        let (device, token) = (sign_in(&member), token(&member));
        let link = Link::new(invented::id(), member.id, Purpose::Reset, at(0));
        let (joined, made) = (member.clone(), token.clone());
        scene
            .write(move |tx, club| {
                members::allow_sign_in(tx, club, &joined, "their hash".to_owned())?;
                sign_ins::add(tx, club, &device)?;
                script_tokens::add(tx, club, &made, "hash of their token")?;
                Ok(links::add(tx, club, &link)?)
            })
            .await
            .unwrap();
        Self { scene, member, device, token, link }
    }

    /// What each reading function finds of theirs for a club.
    async fn found(&self, scene: &Scene) -> Vec<(&'static str, bool)> {
        let (member, device) = (self.member.id, self.device.id);
        let (token, link) = (self.token.id, self.link.id);
        let found = move |r: &mut Read<'_>, c: ClubId| {
            Ok(vec![
                ("sign_ins::standing", sign_ins::standing(r, c, device, at(0))?.is_some()),
                ("access::password_hash", access::password_hash(r, c, member)?.is_some()),
                ("script_tokens::get", script_tokens::get(r, c, token).is_ok()),
                ("script_tokens::of_member", !script_tokens::of_member(r, c, member)?.is_empty()),
                ("links::get", links::get(r, c, link).is_ok()),
            ])
        };
        scene.read(found).await
    }

    /// Everything of theirs, as text.
    async fn all(&self) -> String {
        let (member, device) = (self.member.id, self.device.id);
        let (token, link) = (self.token.id, self.link.id);
        let all = move |r: &mut Read<'_>, c: ClubId| {
            let standing = sign_ins::standing(r, c, device, at(0))?;
            let hash = access::password_hash(r, c, member)?;
            let (token, link) = (script_tokens::get(r, c, token)?, links::get(r, c, link)?);
            Ok(format!("{standing:?} {hash:?} {token:?} {link:?}"))
        };
        self.scene.read(all).await
    }
}

#[tokio::test]
async fn nothing_that_lets_in_elsewhere_is_found() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        for (called, found) in theirs.found(&theirs.scene).await {
            assert!(found, "{called} finds nothing to begin with");
        }
        for (called, found) in theirs.found(&db.scene().await).await {
            assert!(!found, "{called}");
        }
        // A token alone says which club it is of, and it is never another.
        let hash = "hash of their token";
        let bearer: Result<_, StoreError> =
            db.store.read(move |read| script_tokens::bearer(read, hash)).await;
        assert_eq!(bearer.unwrap().unwrap().club, theirs.scene.club.id);
    })
    .await;
}

type Change = Box<dyn FnOnce(&mut Tx<'_>, ClubId) -> Result<bool, Refused> + Send>;

/// What would change something of theirs, if the club were right; each says whether it did.
fn changes(theirs: &Theirs) -> Vec<(&'static str, Change)> {
    let (device, token, link) = (theirs.device, theirs.token.clone(), theirs.link);
    let (id, member, whole) = (token.id, theirs.member.id, theirs.member.clone());
    let (reset, day) = (theirs.member.clone(), jiff::civil::date(2027, 3, 2));
    let another = ScriptToken { id: invented::id(), ..token };
    let fresh = Link { id: invented::id(), ..link };
    vec![
        (
            "sign_ins::refresh",
            Box::new(move |tx, c| {
                let came = sign_ins::refresh(tx, c, (device.id, 0), at(9), at(0))?;
                Ok(came != Refreshed::Gone)
            }),
        ),
        (
            "sign_ins::end",
            Box::new(move |tx, c| Ok(sign_ins::end(tx, c, device.id, at(0)).is_err())),
        ),
        ("links::use_up", Box::new(move |tx, c| Ok(links::use_up(tx, c, link.id, at(0))?))),
        ("links::add", Box::new(move |tx, c| Ok(links::add(tx, c, &fresh).map(|()| true)?))),
        (
            "links::send_reset",
            Box::new(move |tx, c| Ok(links::send_reset(tx, c, &reset, at(0)).map(|_| true)?)),
        ),
        (
            "script_tokens::add",
            Box::new(move |tx, c| {
                Ok(script_tokens::add(tx, c, &another, "another hash").map(|()| true)?)
            }),
        ),
        (
            "script_tokens::revoke",
            Box::new(move |tx, c| Ok(script_tokens::revoke(tx, c, id, at(0)).is_err())),
        ),
        (
            "script_tokens::used",
            Box::new(move |tx, c| Ok(script_tokens::used(tx, c, id, day).is_err())),
        ),
        (
            "access::set_password",
            Box::new(move |tx, c| Ok(access::set_password(tx, c, member, "ours").map(|()| true)?)),
        ),
        ("access::join", Box::new(move |tx, c| Ok(access::join(tx, c, &whole, "ours")?))),
    ]
}

#[tokio::test]
async fn nothing_that_lets_in_elsewhere_can_be_changed_or_made() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let before = theirs.all().await;
        for (called, change) in changes(&theirs) {
            assert!(!ours.write(change).await.unwrap_or(false), "{called}");
            assert_eq!(theirs.all().await, before, "{called}");
        }
    })
    .await;
}

#[test]
fn a_link_of_one_club_is_no_link_of_another() {
    let seals = Seals::new([7; 32], None);
    let link = Link::new(invented::id(), invented::id(), Purpose::Reset, at(0));
    let (ours, theirs) = (invented::id(), invented::id());
    assert_ne!(links::seal(&seals, ours, &link), links::seal(&seals, theirs, &link));
    let act = ActLink::new(invented::id(), Act::Done, at(0));
    let (sealed, other) =
        (mail_links::seal_act(&seals, ours, &act), mail_links::seal_act(&seals, theirs, &act));
    assert_ne!(sealed, other);
    assert_eq!(mail_links::open_act(&seals, &sealed), Some((ours, act)));
    let quiet = QuietLink { member: invented::id(), kind: MailKind::Digest };
    let sealed = mail_links::seal_quiet(&seals, ours, &quiet);
    assert_ne!(sealed, mail_links::seal_quiet(&seals, theirs, &quiet));
    assert_eq!(mail_links::open_quiet(&seals, &sealed), Some((ours, quiet)));
}
