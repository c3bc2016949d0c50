//! The same for a club's events and for what its bows were shot lately: called with the wrong club, no
//! function finds or changes anything, and no event names anybody or anything of another club.

use domain::{
    events::{Entry, Event},
    ids::ClubId,
};
use jiff::civil::date;
use store::{Page, Read, StoreError, Tx, bows, events, events::Which, pace, parts};

use crate::{
    events::event,
    invented::{at, name},
    support::{Database, Refused, Scene, Strung, on_both},
};

const EVERYTHING: Page = Page { after: None, limit: 100 };

/// A club with an event, to which its owner goes with a bow that was shot.
struct Theirs {
    scene: Scene,
    on: Strung,
    event: Event,
    entry: Entry,
}

impl Theirs {
    async fn in_database(db: &Database) -> Self {
        let scene = db.scene().await;
        let on = scene.strung_bow("theirs", at(-5)).await;
        scene.shoot(&on.bow, at(-1), 72).await;
        let entered = event(scene.owner, 100, 101);
        let entry = Entry { member: scene.owner, bow: on.bow.id, spare: Some(on.string.id) };
        let event = scene
            .write(move |tx, club| {
                events::add(tx, club, &entered)?;
                Ok(events::set_entries(tx, club, &entered, &[entry])?)
            })
            .await
            .unwrap();
        Self { scene, on, event, entry }
    }

    /// What each reading function finds of theirs for a club.
    async fn lists(&self, scene: &Scene) -> Vec<(&'static str, String)> {
        let (bow, part, event) = ([self.on.bow.id], [self.on.string.id], self.event.id);
        let lists = move |r: &mut Read<'_>, c| {
            let today = date(2027, 3, 1);
            let one = events::get(r, c, event).ok();
            let which = Which { from: None, called_off: true };
            Ok([
                ("bows::some", format!("{:?}", bows::some(r, c, &bow)?)),
                ("parts::some", format!("{:?}", parts::some(r, c, &part)?)),
                ("events::get", format!("{:?}", one.as_slice())),
                ("events::list", format!("{:?}", events::list(r, c, which, EVERYTHING)?)),
                ("events::entries_of", format!("{:?}", events::entries_of(r, c, event)?)),
                ("events::ending_from", format!("{:?}", events::ending_from(r, c, today)?)),
                ("events::ahead", format!("{:?}", events::ahead(r, c, today)?)),
                ("pace::recent", format!("{:?}", pace::recent(r, c, &bow, today)?)),
            ])
        };
        scene.read(lists).await.to_vec()
    }
}

#[tokio::test]
async fn no_event_of_another_club_is_found() {
    on_both(async |db| {
        let theirs = Theirs::in_database(&db).await;
        for (called, found) in theirs.lists(&theirs.scene).await {
            assert!(found != "[]" && found != "{}", "{called} finds nothing to begin with");
        }
        let ours = db.scene().await;
        for (called, found) in theirs.lists(&ours).await {
            assert!(found == "[]" || found == "{}", "{called} finds {found}");
        }
    })
    .await;
}

type Change = Box<dyn FnOnce(&mut Tx<'_>, ClubId) -> Result<(), Refused> + Send>;

/// What would change an event of theirs, if the club were right.
fn changes(theirs: &Theirs) -> Vec<(&'static str, Change)> {
    let renamed = Event { name: name("Taken"), ..theirs.event.clone() };
    let event = theirs.event.clone();
    vec![
        ("events::change", Box::new(move |tx, c| Ok(events::change(tx, c, &renamed).map(drop)?))),
        (
            "events::set_entries",
            Box::new(move |tx, c| Ok(events::set_entries(tx, c, &event, &[]).map(drop)?)),
        ),
    ]
}

#[tokio::test]
async fn no_event_of_another_club_can_be_changed() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let before = theirs.lists(&theirs.scene).await;
        for (called, change) in changes(&theirs) {
            let refused = ours.write(change).await;
            assert!(matches!(refused, Err(Refused::Store(StoreError::Changed))), "{called}");
            assert_eq!(theirs.lists(&theirs.scene).await, before, "{called}");
        }
    })
    .await;
}

#[tokio::test]
async fn no_event_of_ours_names_what_is_another_clubs() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let (bow, own) = (ours.bow("ours").await.id, event(ours.owner, 100, 101));
        let entered = own.clone();
        ours.write(move |tx, c| Ok(events::add(tx, c, &entered)?)).await.unwrap();
        let before = theirs.lists(&theirs.scene).await;
        let by_them = event(theirs.scene.owner, 100, 101);
        let added = ours.write(move |tx, c| Ok(events::add(tx, c, &by_them)?)).await;
        assert!(added.is_err(), "{added:?}");
        let good = Entry { member: ours.owner, bow, spare: None };
        for bad in [
            Entry { member: theirs.entry.member, ..good },
            Entry { bow: theirs.entry.bow, ..good },
            Entry { spare: theirs.entry.spare, ..good },
            theirs.entry,
        ] {
            let event = own.clone();
            let set = ours.write(move |tx, c| Ok(events::set_entries(tx, c, &event, &[bad])?));
            let set = set.await;
            assert!(set.is_err(), "{set:?}");
        }
        let going = ours.read(move |read, club| events::entries_of(read, club, own.id)).await;
        assert_eq!(going, []);
        assert_eq!(theirs.lists(&theirs.scene).await, before);
    })
    .await;
}

#[tokio::test]
async fn an_event_with_the_same_id_in_another_club_is_another_event() {
    on_both(async |db| {
        let (theirs, ours) = (Theirs::in_database(&db).await, db.scene().await);
        let before = theirs.lists(&theirs.scene).await;
        let own = Event { id: theirs.event.id, ..event(ours.owner, 7, 8) };
        let kept = own.clone();
        ours.write(move |tx, c| Ok(events::add(tx, c, &own)?)).await.unwrap();
        let read = ours.read(move |read, club| events::get(read, club, kept.id)).await;
        assert_eq!((read.created_by, read.version), (ours.owner, 1));
        assert_eq!(theirs.lists(&theirs.scene).await, before);
    })
    .await;
}
