//! The same for a club's people, its squads and what lets somebody in: called with the wrong club, no
//! function finds or changes anything.

use std::collections::BTreeSet;

use domain::{
    clubs::Club,
    members::{AddressRefused, EmailAddress, Member, Role},
    reach::Reach,
    squads::{Squad, SquadPart},
};
use store::{Page, Read, StoreError, Tx, access, clubs, links, members, sign_ins, squads};

use crate::{
    invented::{self, at, name},
    people::{sign_in, squad_of},
    support::{Database, Refused, Scene, on_both},
};

const EVERYTHING: Page = Page { after: None, limit: 100 };
const HASH: &str = "$argon2id$x";

/// A club with a coach and an archer in a squad; the coach has joined, and the archer was invited.
struct Theirs {
    scene: Scene,
    coach: Member,
    archer: Member,
    squad: Squad,
    device: sign_ins::SignIn,
}

impl Theirs {
    async fn in_database(db: &Database) -> Self {
        let scene = db.scene().await;
        let (coach, archer) = (scene.joins(Role::Coach).await, scene.joins(Role::Archer).await);
        let squad = scene.squad(&[&coach], &[&archer]).await;
        let device = sign_in(&coach);
        let (joined, invited) = (coach.clone(), archer.clone());
        scene
            .write(move |tx, club| {
                members::allow_sign_in(tx, club, &joined, HASH.to_owned())?;
                sign_ins::add(tx, club, &device)?;
                links::invite(tx, club, &invited, at(0))?;
                Ok(())
            })
            .await
            .unwrap();
        Self { scene, coach, archer, squad, device }
    }

    /// What each reading function finds of theirs for a club.
    async fn lists(&self, scene: &Scene) -> Vec<(&'static str, String)> {
        let (coach, archer) = (self.coach.id, self.archer.id);
        let (squad, device) = (self.squad.id, self.device.id);
        let both = Reach::Squads(BTreeSet::from([coach, archer]));
        let lists = move |r: &mut Read<'_>, c| {
            let standing = sign_ins::standing(r, c, device, at(1))?;
            let hash = access::password_hash(r, c, coach)?;
            let squad = squads::get(r, c, squad).ok();
            let listed = squads::list(r, c, None, EVERYTHING)?;
            let one = members::get(r, c, archer).ok();
            Ok([
                ("sign_ins::standing", format!("{:?}", standing.as_slice())),
                ("access::password_hash", format!("{:?}", hash.as_slice())),
                ("access::joined", format!("{:?}", access::joined(r, c)?)),
                (
                    "access::invited_since",
                    format!("{:?}", access::invited_since(r, c, archer, at(-1))?),
                ),
                ("members::list", format!("{:?}", members::list(r, c, &both, EVERYTHING)?)),
                ("members::get", format!("{:?}", one.as_slice())),
                ("squads::get", format!("{:?}", squad.as_slice())),
                ("squads::list", format!("{listed:?}")),
                ("squads::all", format!("{:?}", squads::all(r, c)?)),
                ("squads::of_member", format!("{:?}", squads::of_member(r, c, archer)?)),
                ("squads::coached_by", format!("{:?}", squads::coached_by(r, c, coach)?)),
            ])
        };
        scene.read(lists).await.to_vec()
    }

    /// Everything of theirs, as text.
    async fn all(&self, db: &Database) -> String {
        let club = self.scene.club.id;
        let settings: Club = db.store.read(move |r| clubs::get(r, club)).await.unwrap();
        let unused = "SELECT CAST(COUNT(*) AS TEXT) AS text FROM one_time_links \
            WHERE used_at IS NULL";
        format!("{:#?} {settings:#?} {:?}", self.lists(&self.scene).await, db.fresh.texts(unused))
    }
}

#[tokio::test]
async fn nobody_of_another_club_is_found() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        for (called, found) in theirs.lists(&theirs.scene).await {
            assert!(found != "[]" && found != "{}", "{called} finds nothing to begin with");
        }
        let ours = db.scene().await;
        for (called, found) in theirs.lists(&ours).await {
            assert!(found == "[]" || found == "{}", "{called} finds {found}");
        }
        let (owner, coach) = (ours.owner, theirs.coach.id);
        let everybody = ours.read(|r, c| members::list(r, c, &Reach::Everybody, EVERYTHING)).await;
        assert_eq!(everybody.iter().map(|member| member.id).collect::<Vec<_>>(), [owner]);
        let reach = ours.read(move |r, c| squads::reach(r, c, coach, Role::Coach)).await;
        assert_eq!(reach, Reach::Squads(BTreeSet::from([coach])));
        let people = ours.write(|tx, c| Ok(members::current_to_change(tx, c)?)).await.unwrap();
        assert!(people.get(owner).is_some() && people.get(coach).is_none());
    })
    .await;
}

type Change = Box<dyn FnOnce(&mut Tx<'_>, domain::ids::ClubId) -> Result<(), Refused> + Send>;

/// What would change something of theirs, if the club were right; whether it may pass for having found
/// nothing to do.
fn changes(theirs: &Theirs) -> Vec<(&'static str, bool, Change)> {
    let (coach, archer, squad) = (theirs.coach.id, theirs.archer.clone(), theirs.squad.clone());
    let (gone, other) = (squad.clone(), Squad { name: name("Taken"), ..squad });
    let renamed = Member { name: name("Taken"), ..archer.clone() };
    let (invited, theirs_address, archer) = (archer.clone(), archer.email.clone(), archer.id);
    let named = squad_of(&[&theirs.coach], &[]);
    let address = EmailAddress::parse("taken@club.example").unwrap();
    let device = sign_in(&theirs.coach);
    vec![
        (
            "members::change",
            false,
            Box::new(move |tx, c| Ok(members::change(tx, c, &renamed).map(drop)?)),
        ),
        (
            "members::refuse_address",
            true,
            Box::new(move |tx, c| {
                let refused = AddressRefused { at: at(2), answer: "550 5.1.1".to_owned() };
                Ok(members::refuse_address(tx, c, archer, &theirs_address, &refused).map(drop)?)
            }),
        ),
        (
            "squads::change",
            false,
            Box::new(move |tx, c| Ok(squads::change(tx, c, &other).map(drop)?)),
        ),
        (
            "squads::remove",
            false,
            Box::new(move |tx, c| Ok(squads::remove(tx, c, &gone, (invented::id(), at(3)))?)),
        ),
        ("squads::add", false, Box::new(move |tx, c| Ok(squads::add(tx, c, &named)?))),
        (
            "links::invite",
            false,
            Box::new(move |tx, c| Ok(links::invite(tx, c, &invited, at(1)).map(drop)?)),
        ),
        ("sign_ins::add", false, Box::new(move |tx, c| Ok(sign_ins::add(tx, c, &device)?))),
        (
            "access::replace_password",
            false,
            Box::new(move |tx, c| Ok(access::replace_password(tx, c, coach, HASH, "taken")?)),
        ),
        (
            "access::move_sign_in",
            true,
            Box::new(move |tx, c| Ok(access::move_sign_in(tx, c, coach, &address).map(drop)?)),
        ),
        (
            "squads::take_out",
            true,
            Box::new(move |tx, c| Ok(squads::take_out(tx, c, archer, SquadPart::ALL)?)),
        ),
        (
            "access::end_sign_ins",
            true,
            Box::new(move |tx, c| Ok(access::end_sign_ins(tx, c, coach, None, at(1))?)),
        ),
        (
            "access::void_links",
            true,
            Box::new(move |tx, c| Ok(access::void_links(tx, c, archer, at(1))?)),
        ),
        ("access::end", true, Box::new(move |tx, c| Ok(access::end(tx, c, coach, at(1))?))),
    ]
}

#[tokio::test]
async fn nobody_of_another_club_can_be_changed_named_or_put_out() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let before = theirs.all(&db).await;
        for (called, may_pass, change) in changes(&theirs) {
            assert_eq!(ours.write(change).await.is_ok(), may_pass, "{called}");
            assert_eq!(theirs.all(&db).await, before, "{called}");
        }
    })
    .await;
}

#[tokio::test]
async fn the_settings_of_a_club_are_changed_in_that_club_and_in_one_version_only() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let before = theirs.all(&db).await;
        let renamed = Club { name: name("Taken"), ..ours.club.clone() };
        let absent = Club { id: invented::id(), ..renamed.clone() };
        let change = |club: &Club| {
            let club = club.clone();
            ours.write(move |tx, _| Ok(clubs::change(tx, &club)?))
        };
        let kept = change(&renamed).await.unwrap();
        assert_eq!(kept, Club { version: 2, ..renamed.clone() });
        for refused in [change(&renamed).await, change(&absent).await] {
            assert!(matches!(refused, Err(Refused::Store(StoreError::Changed))), "{refused:?}");
        }
        assert_eq!(theirs.all(&db).await, before);
    })
    .await;
}
