//! Members who are changed, leave and are let in no more; squads and who is in them.

use std::collections::BTreeSet;

use domain::{
    ids::{MemberId, SquadId},
    mail::MailKind,
    members::{AddressRefused, EmailAddress, Guardian, Member, Role},
    membership::{INVITATIONS_A_DAY, MembershipError, check_invitation},
    quiet_hours::QuietHours,
    reach::Reach,
    squads::{Squad, SquadPart},
    time::Zone,
};
use jiff::civil::date;
use store::{Page, StoreError, access, links, members, outbox, sign_ins, squads};

use crate::{
    invented::{self, at, at_hour, name},
    support::{Refused, Scene, on_both},
};

const EVERYTHING: Page = Page { after: None, limit: 100 };

impl Scene {
    /// Adds a member of that role.
    pub(crate) async fn joins(&self, role: Role) -> Member {
        let member = invented::member(role);
        let added = member.clone();
        self.write(move |tx, club| Ok(members::add(tx, club, &added)?)).await.unwrap();
        member
    }

    /// Makes a squad of these people.
    pub(crate) async fn squad(&self, coaches: &[&Member], archers: &[&Member]) -> Squad {
        let squad = squad_of(coaches, archers);
        let added = squad.clone();
        self.write(move |tx, club| Ok(squads::add(tx, club, &added)?)).await.unwrap();
        squad
    }
}

fn ids(people: &[&Member]) -> BTreeSet<MemberId> {
    people.iter().map(|member| member.id).collect()
}

pub(crate) fn squad_of(coaches: &[&Member], archers: &[&Member]) -> Squad {
    let (coaches, archers) = (ids(coaches), ids(archers));
    let (id, name) = (invented::id::<SquadId>(), name("Thursday \u{5f13}"));
    Squad { id, name, coaches, archers, version: 1, created_at: at(0) }
}

#[tokio::test]
async fn a_changed_member_is_read_back_and_an_old_version_changes_nothing() {
    on_both(async |db| {
        let scene = db.scene().await;
        let before = scene.joins(Role::Archer).await;
        let (email, agreed) = (before.email.clone(), Some(date(2027, 2, 1)));
        let full = Member {
            name: name("\u{c6}gir"),
            role: Role::Coach,
            zone: Some(Zone::parse("Asia/Kathmandu").unwrap()),
            quiet: Some(QuietHours::NIGHT),
            minor_until: Some(date(2030, 5, 1)),
            guardian: Some(Guardian { name: name("Runa"), email, consented_on: agreed }),
            ..before.clone()
        };
        // Full, bare again, and gone.
        let bare = before.clone();
        let gone = Member { left_at: Some(at(3)), ..full.clone() };
        for (version, change) in (1..).zip([full, bare, gone]) {
            let (stale, change) = (version - 1, Member { version, ..change });
            let sent = change.clone();
            let kept = scene.write(move |tx, club| Ok(members::change(tx, club, &sent)?)).await;
            let expected = Member { version: version + 1, ..change.clone() };
            assert_eq!(kept.unwrap(), expected);
            let id = change.id;
            let read = scene.read(move |read, club| members::get(read, club, id)).await;
            assert_eq!(read, expected);
            for version in [stale, version, version + 2] {
                let old = Member { version, ..change.clone() };
                let refused = scene.write(move |tx, club| Ok(members::change(tx, club, &old)?));
                let refused = refused.await;
                assert!(matches!(refused, Err(Refused::Store(StoreError::Changed))), "{refused:?}");
            }
        }
    })
    .await;
}

#[tokio::test]
async fn a_list_shows_who_is_within_reach_and_has_not_left() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (coach, archer) = (scene.joins(Role::Coach).await, scene.joins(Role::Archer).await);
        let gone = scene.joins(Role::Archer).await;
        let left = Member { left_at: Some(at(1)), ..gone.clone() };
        scene.write(move |tx, club| Ok(members::change(tx, club, &left)?)).await.unwrap();
        let list = async |reach: Reach, page: Page| {
            let found = scene.read(move |read, club| members::list(read, club, &reach, page)).await;
            found.iter().map(|member| member.id).collect::<Vec<_>>()
        };
        let (owner, everybody) = (scene.owner, Reach::Everybody);
        assert_eq!(list(everybody.clone(), EVERYTHING).await, [owner, coach.id, archer.id]);
        let squads = Reach::Squads(ids(&[&coach, &archer, &gone]));
        assert_eq!(list(squads, EVERYTHING).await, [coach.id, archer.id]);
        assert_eq!(list(Reach::Own(archer.id), EVERYTHING).await, [archer.id]);
        assert_eq!(list(Reach::Own(gone.id), EVERYTHING).await, []);
        let first = Page { after: Some(owner.0), limit: 1 };
        assert_eq!(list(everybody, first).await, [coach.id]);
        let people =
            scene.write(|tx, club| Ok(members::current_to_change(tx, club)?)).await.unwrap();
        assert_eq!(people.get(gone.id), None);
        assert_eq!(people.check_address(invented::id(), &gone.email), Ok(()));
        let taken = Err(MembershipError::AddressTaken);
        assert_eq!(people.check_address(invented::id(), &archer.email), taken);
    })
    .await;
}

#[tokio::test]
async fn an_address_is_free_again_when_its_owner_has_left() {
    on_both(async |db| {
        let scene = db.scene().await;
        let first = scene.joins(Role::Archer).await;
        let again = Member { email: first.email.clone(), ..invented::member(Role::Archer) };
        let add = |member: &Member| {
            let member = member.clone();
            scene.write(move |tx, club| Ok(members::add(tx, club, &member)?))
        };
        assert!(add(&again).await.is_err());
        let left = Member { left_at: Some(at(1)), ..first };
        scene.write(move |tx, club| Ok(members::change(tx, club, &left)?)).await.unwrap();
        add(&again).await.unwrap();
    })
    .await;
}

#[tokio::test]
async fn squads_are_read_back_changed_and_removed() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (coach, archer) = (scene.joins(Role::Coach).await, scene.joins(Role::Archer).await);
        let other = scene.joins(Role::Archer).await;
        let empty = scene.squad(&[], &[]).await;
        let full = scene.squad(&[&coach], &[&archer, &other, &coach]).await;
        let all = scene.read(squads::all).await;
        assert_eq!(all, [empty.clone(), full.clone()]);
        let of = async |member: &Member| {
            let id = member.id;
            scene.read(move |read, club| squads::of_member(read, club, id)).await
        };
        assert_eq!(of(&other).await, std::slice::from_ref(&full));

        let fewer = Squad { name: name("Fridays"), archers: ids(&[&archer]), ..full.clone() };
        let change = |squad: &Squad| {
            let squad = squad.clone();
            scene.write(move |tx, club| Ok(squads::change(tx, club, &squad)?))
        };
        let kept = change(&fewer).await.unwrap();
        assert_eq!(kept, Squad { version: 2, ..fewer.clone() });
        let id = full.id;
        assert_eq!(scene.read(move |read, club| squads::get(read, club, id)).await, kept);
        let refused = change(&fewer).await;
        assert!(matches!(refused, Err(Refused::Store(StoreError::Changed))), "{refused:?}");
        assert_eq!(of(&other).await, []);

        let remove = |squad: &Squad| {
            let squad = squad.clone();
            scene.write(move |tx, club| Ok(squads::remove(tx, club, &squad, (scene.owner, at(3)))?))
        };
        let refused = remove(&fewer).await;
        assert!(matches!(refused, Err(Refused::Store(StoreError::Changed))), "{refused:?}");
        assert_eq!(
            of(&archer).await,
            std::slice::from_ref(&kept),
            "what was refused took nobody out"
        );
        remove(&kept).await.unwrap();
        assert_eq!(scene.read(squads::all).await, [empty]);
    })
    .await;
}

#[tokio::test]
async fn somebody_is_taken_out_of_squads_by_their_part() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (coach, archer) = (scene.joins(Role::Coach).await, scene.joins(Role::Archer).await);
        let first = scene.squad(&[&coach], &[&archer]).await;
        let second = scene.squad(&[&coach], &[&coach, &archer]).await;
        let take = async |parts: &'static [SquadPart]| {
            let id = coach.id;
            let taken = scene.write(move |tx, club| Ok(squads::take_out(tx, club, id, parts)?));
            taken.await.unwrap();
            scene.read(squads::all).await
        };
        let none = BTreeSet::new;
        let first = Squad { coaches: none(), version: 2, ..first };
        let second = Squad { coaches: none(), version: 2, ..second };
        assert_eq!(take(&[SquadPart::Coach]).await, [first.clone(), second.clone()]);
        let second = Squad { archers: ids(&[&archer]), version: 3, ..second };
        assert_eq!(take(SquadPart::ALL).await, [first, second]);
    })
    .await;
}

#[tokio::test]
async fn nobody_gets_in_any_more_when_their_access_is_ended() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (gone, stays) = (scene.joins(Role::Archer).await, scene.joins(Role::Archer).await);
        let (ones, others) = (sign_in(&gone), sign_in(&stays));
        let (one, other) = (gone.clone(), stays.clone());
        scene
            .write(move |tx, club| {
                for (member, sign_in) in [(&one, ones), (&other, others)] {
                    members::allow_sign_in(tx, club, member, "$argon2id$x".to_owned())?;
                    sign_ins::add(tx, club, &sign_in)?;
                }
                links::invite(tx, club, &one, at(0))?;
                Ok(access::end(tx, club, one.id, at(1))?)
            })
            .await
            .unwrap();
        assert_eq!(scene.read(access::joined).await, ids(&[&stays]));
        let standing = async |id| {
            let found =
                scene.read(move |read, club| sign_ins::standing(read, club, id, at(1))).await;
            found.is_some()
        };
        assert_eq!((standing(ones.id).await, standing(others.id).await), (false, true));
        let used = "SELECT CAST(COUNT(*) AS TEXT) AS text FROM one_time_links \
            WHERE used_at IS NOT NULL";
        assert_eq!(db.fresh.texts(used), ["1"]);
    })
    .await;
}

pub(crate) fn sign_in(member: &Member) -> sign_ins::SignIn {
    sign_ins::SignIn {
        id: invented::id(),
        member: member.id,
        generation: 0,
        created_at: at(0),
        expires_at: at(90),
        ended_at: None,
    }
}

#[tokio::test]
async fn another_password_signs_out_of_every_device_but_one() {
    on_both(async |db| {
        let scene = db.scene().await;
        let member = scene.joins(Role::Archer).await;
        let devices = [sign_in(&member), sign_in(&member), sign_in(&member)];
        let (added, id, kept) = (member.clone(), member.id, devices[1].id);
        scene
            .write(move |tx, club| {
                members::allow_sign_in(tx, club, &added, "before".to_owned())?;
                devices.iter().try_for_each(|one| sign_ins::add(tx, club, one))?;
                access::replace_password(tx, club, id, "before", "after")?;
                Ok(access::end_sign_ins(tx, club, id, Some(kept), at(1))?)
            })
            .await
            .unwrap();
        let hash = scene.read(move |read, club| access::password_hash(read, club, id)).await;
        assert_eq!(hash.as_deref(), Some("after"));
        for device in devices {
            let stands = scene.read(move |r, club| sign_ins::standing(r, club, device.id, at(1)));
            assert_eq!(stands.await.is_some(), device.id == kept);
        }
        let stale = scene
            .write(move |tx, club| Ok(access::replace_password(tx, club, id, "before", "again")?));
        let refused = stale.await;
        assert!(matches!(refused, Err(Refused::Store(StoreError::Changed))), "{refused:?}");
    })
    .await;
}

#[tokio::test]
async fn a_sign_in_moves_to_another_address_unless_somebody_has_it() {
    on_both(async |db| {
        let (scene, elsewhere) = (db.scene().await, db.scene().await);
        let (member, taken) =
            (scene.joins(Role::Archer).await, elsewhere.joins(Role::Archer).await);
        let never = scene.joins(Role::Archer).await;
        for (scene, member) in [(&scene, &member), (&elsewhere, &taken)] {
            let member = member.clone();
            let allow = scene.write(move |tx, club| {
                Ok(members::allow_sign_in(tx, club, &member, "hash".to_owned())?)
            });
            allow.await.unwrap();
        }
        let moves = async |member: &Member, to: &EmailAddress| {
            let (id, to) = (member.id, to.clone());
            let moved = scene.write(move |tx, club| {
                let moved = access::move_sign_in(tx, club, id, &to)?;
                if moved { Ok(()) } else { Err(StoreError::Changed.into()) }
            });
            moved.await.is_ok()
        };
        let new = EmailAddress::parse("new@club.example").unwrap();
        assert!(!moves(&member, &taken.email).await);
        assert!(moves(&never, &taken.email).await, "nobody signs in by it");
        assert!(moves(&member, &new).await);
        let (emails, old) = ([new, taken.email.clone()], member.email.clone());
        let found = scene
            .read(move |read, _| {
                let [new, taken] = &emails;
                let old = members::login(read, &old)?.is_some();
                let by = |login: Option<members::Login>| login.map(|login| login.member);
                Ok((old, by(members::login(read, new)?), by(members::login(read, taken)?)))
            })
            .await;
        assert_eq!(found, (false, Some(member.id), Some(taken.id)));
    })
    .await;
}

#[tokio::test]
async fn an_invitation_is_a_link_and_a_mail_of_its_own() {
    on_both(async |db| {
        let scene = db.scene().await;
        let member = scene.joins(Role::Archer).await;
        let (invited, id) = (member.clone(), member.id);
        let sent = scene
            .write(move |tx, club| {
                let hours = (0..3).map(|hour| links::invite(tx, club, &invited, at_hour(hour)));
                Ok(hours.collect::<Result<Vec<_>, StoreError>>()?)
            })
            .await
            .unwrap();
        let mails = scene.read(outbox::all).await;
        assert_eq!(mails.len(), INVITATIONS_A_DAY);
        for (posted, link) in mails.iter().zip(&sent) {
            assert_eq!(posted.mail.kind, MailKind::Invitation);
            assert_eq!((posted.mail.recipient, posted.mail.link), (id, Some(link.id)));
            assert_eq!(posted.mail.due_at, link.created_at);
        }
        let since = at_hour(1);
        let times = scene.read(move |read, club| access::invited_since(read, club, id, since));
        assert_eq!(times.await, [at_hour(1), at_hour(2)]);
        let times = scene.read(move |read, club| access::invited_since(read, club, id, at(-1)));
        let refused = check_invitation(false, &times.await, at_hour(3));
        assert!(matches!(refused, Err(MembershipError::InvitedTooOften { .. })), "{refused:?}");
    })
    .await;
}

#[tokio::test]
async fn an_address_is_marked_once_and_only_while_it_is_theirs() {
    on_both(async |db| {
        let scene = db.scene().await;
        let owner = scene.owner;
        let before = scene.read(move |read, club| members::get(read, club, owner)).await;
        let refuse = async |address: &str, answer: &str| {
            let address = EmailAddress::parse(address).unwrap();
            let refused = AddressRefused { at: at(3), answer: answer.to_owned() };
            let mark = scene.write(move |tx, club| {
                Ok(members::refuse_address(tx, club, owner, &address, &refused)?)
            });
            mark.await.unwrap()
        };
        assert!(!refuse("somebody.else@club.example", "550 5.1.1 no").await);
        assert!(refuse(before.email.as_str(), "550 5.1.1 no such mailbox").await);
        assert!(!refuse(before.email.as_str(), "550 5.1.1 again").await);
        let after = scene.read(move |read, club| members::get(read, club, owner)).await;
        let refused = AddressRefused { at: at(3), answer: "550 5.1.1 no such mailbox".to_owned() };
        assert_eq!(after.refused, Some(refused));
        assert_eq!(after.version, before.version + 1);
    })
    .await;
}
