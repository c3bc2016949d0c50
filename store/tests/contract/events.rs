//! Events as they are kept: their days, their entries, and who changed them last.

use std::collections::BTreeSet;

use domain::{
    events::{Entry, Event, EventDates, Priority},
    ids::{EventId, MemberId},
    members::Role,
    parts::PartKind,
};
use jiff::{Span, civil::Date};
use store::{Page, StoreError, Tx, events, events::Which, members};

use crate::{
    invented::{self, at, name},
    support::{Refused, Scene, on_both},
};

const ALL: Page = Page { after: None, limit: 100 };

/// Day 0 of the scene.
const TODAY: Date = Date::constant(2027, 3, 1);

/// So many days after the beginning of the scene.
fn day(days: i64) -> Date {
    TODAY.saturating_add(Span::new().days(days))
}

/// A regular event of those days.
pub(crate) fn event(by: MemberId, from: i64, to: i64) -> Event {
    Event {
        id: invented::id(),
        name: name("Invented Cup"),
        dates: EventDates::new(day(from), day(to)).unwrap(),
        priority: Priority::Regular,
        arrows_expected: 144,
        blocked_days: BTreeSet::from([day(from - 1), day(from)]),
        version: 1,
        cancelled_at: None,
        created_by: by,
        created_at: at(0),
        changed_at: at(0),
    }
}

impl Scene {
    /// An event of the owner's.
    async fn event(&self, from: i64, to: i64) -> Event {
        let event = event(self.owner, from, to);
        self.enter(event.clone()).await;
        event
    }

    async fn enter(&self, event: Event) {
        self.write(move |tx, club| Ok(events::add(tx, club, &event)?)).await.unwrap();
    }

    async fn changed(&self, event: Event) -> Result<Event, Refused> {
        self.write(move |tx, club| Ok(events::change(tx, club, &event)?)).await
    }

    async fn entered(&self, event: &Event, going: &[Entry]) -> Result<Event, Refused> {
        let (event, going) = (event.clone(), going.to_vec());
        self.write(move |tx, club| Ok(events::set_entries(tx, club, &event, &going)?)).await
    }

    async fn entries(&self, event: EventId) -> Vec<Entry> {
        self.read(move |read, club| events::entries_of(read, club, event)).await
    }

    async fn kept(&self, event: EventId) -> Event {
        self.read(move |read, club| events::get(read, club, event)).await
    }
}

fn is_stale(refused: &Result<Event, Refused>) -> bool {
    matches!(refused, Err(Refused::Store(StoreError::Changed)))
}

#[tokio::test]
async fn an_event_is_read_as_it_was_entered_and_changed() {
    on_both(async |db| {
        let scene = db.scene().await;
        let event = scene.event(100, 101).await;
        assert_eq!(scene.kept(event.id).await, event);
        let changed = Event {
            name: name("Invented Shield"),
            dates: EventDates::new(day(120), day(120)).unwrap(),
            priority: Priority::Minor,
            arrows_expected: 0,
            blocked_days: BTreeSet::from([day(119)]),
            cancelled_at: Some(at(3)),
            ..event.clone()
        };
        let kept = scene.changed(changed.clone()).await.unwrap();
        assert_eq!(kept, Event { version: 2, ..changed.clone() });
        assert_eq!(scene.kept(event.id).await, kept);
        // Whoever read the first version comes too late, and changes nothing.
        assert!(is_stale(&scene.changed(event.clone()).await));
        assert!(is_stale(&scene.entered(&event, &[]).await));
        assert_eq!(scene.kept(event.id).await, kept);
        let none = Event { blocked_days: BTreeSet::new(), cancelled_at: None, ..kept };
        let kept = scene.changed(none).await.unwrap();
        assert_eq!(scene.kept(event.id).await, kept);
    })
    .await;
}

#[tokio::test]
async fn entries_take_the_place_of_those_before() {
    on_both(async |db| {
        let scene = db.scene().await;
        let event = scene.event(100, 101).await;
        let other = scene.event(102, 103).await;
        let spare = scene.part(PartKind::Bowstring).await.id;
        let (one, two) = (scene.bow("one").await.id, scene.bow("two").await.id);
        let entry = |bow, spare| Entry { member: scene.owner, bow, spare };
        let both = [entry(one, Some(spare)), entry(two, None)];
        let second = scene.entered(&event, &both).await.unwrap();
        assert_eq!(second, Event { version: 2, ..event.clone() });
        assert_eq!(scene.kept(event.id).await, second);
        scene.entered(&other, &[entry(two, Some(spare))]).await.unwrap();
        assert_eq!(scene.entries(event.id).await, both);
        let third = scene.entered(&second, &[entry(one, None)]).await.unwrap();
        assert_eq!(scene.entries(event.id).await, [entry(one, None)]);
        assert_eq!(scene.kept(event.id).await.blocked_days, event.blocked_days);
        scene.entered(&third, &[]).await.unwrap();
        assert_eq!(scene.entries(event.id).await, []);
        assert_eq!(scene.entries(other.id).await, [entry(two, Some(spare))]);
    })
    .await;
}

#[tokio::test]
async fn a_change_that_fails_leaves_everything_as_it_was() {
    on_both(async |db| {
        let scene = db.scene().await;
        let event = scene.event(100, 101).await;
        let bow = scene.bow("one").await.id;
        let nobody = Entry { member: invented::id(), bow, spare: None };
        let own = Entry { member: scene.owner, bow, spare: None };
        let event = scene.entered(&event, &[own]).await.unwrap();
        assert!(scene.entered(&event, &[nobody]).await.is_err());
        assert!(scene.entered(&event, &[own, own]).await.is_err());
        assert_eq!(scene.kept(event.id).await, event);
        assert_eq!(scene.entries(event.id).await, [own]);
    })
    .await;
}

#[tokio::test]
async fn a_list_leaves_out_what_is_over_or_called_off_if_so_asked() {
    on_both(async |db| {
        let scene = db.scene().await;
        let over = scene.event(-9, -8).await;
        let ahead = scene.event(7, 8).await;
        let mut off = event(scene.owner, 20, 21);
        off.cancelled_at = Some(at(1));
        scene.enter(off.clone()).await;
        let under_way = scene.event(-1, 0).await;
        let list = async |from, called_off, page| {
            let which = Which { from, called_off };
            scene.read(move |read, club| events::list(read, club, which, page)).await
        };
        let ids = |events: Vec<Event>| -> Vec<EventId> {
            events.into_iter().map(|event| event.id).collect()
        };
        assert_eq!(
            list(None, true, ALL).await,
            [over.clone(), ahead.clone(), off.clone(), under_way.clone()]
        );
        assert_eq!(ids(list(None, false, ALL).await), [over.id, ahead.id, under_way.id]);
        assert_eq!(ids(list(Some(day(0)), false, ALL).await), [ahead.id, under_way.id]);
        assert_eq!(ids(list(Some(day(1)), true, ALL).await), [ahead.id, off.id]);
        let page = Page { after: Some(over.id.0), limit: 1 };
        assert_eq!(ids(list(None, false, page).await), [ahead.id]);
    })
    .await;
}

#[tokio::test]
async fn what_lies_ahead_comes_by_its_day_with_its_entries() {
    on_both(async |db| {
        let scene = db.scene().await;
        let (late, early) = (scene.event(30, 31).await, scene.event(10, 11).await);
        let under_way = scene.event(-2, 0).await;
        scene.event(-9, -1).await;
        let mut off = event(scene.owner, 5, 6);
        off.cancelled_at = Some(at(1));
        scene.enter(off).await;
        let archer = invented::member(Role::Archer);
        let (id, added) = (archer.id, archer.clone());
        scene.write(move |tx, club| Ok(members::add(tx, club, &added)?)).await.unwrap();
        let bow = scene.bow("one").await.id;
        let entry = |member| Entry { member, bow, spare: None };
        let late = scene.entered(&late, &[entry(id), entry(scene.owner)]).await.unwrap();
        let under_way = scene.entered(&under_way, &[entry(id)]).await.unwrap();
        let ahead = |today| scene.read(move |read, club| events::ahead(read, club, today));
        let by_member = vec![entry(scene.owner), entry(id)];
        assert!(scene.owner < id);
        assert_eq!(
            ahead(day(0)).await,
            [(under_way, vec![entry(id)]), (early, vec![]), (late.clone(), by_member.clone())]
        );
        assert_eq!(ahead(day(12)).await, [(late, by_member)]);
        assert_eq!(ahead(day(32)).await, []);
    })
    .await;
}

#[tokio::test]
async fn of_two_who_change_an_event_at_once_one_is_told() {
    on_both(async |db| {
        let scene = db.scene().await;
        let event = scene.event(100, 101).await;
        let named = |text| Event { name: name(text), ..event.clone() };
        let change = |event: Event| {
            move |tx: &mut Tx<'_>, club| Ok::<_, Refused>(events::change(tx, club, &event)?)
        };
        let (one, two) = tokio::join!(
            scene.write(change(named("Invented Shield"))),
            scene.write(change(named("Invented Plate"))),
        );
        assert!(one.is_ok() != two.is_ok(), "{one:?} {two:?}");
        assert!(is_stale(&one) || is_stale(&two), "{one:?} {two:?}");
        assert_eq!(scene.kept(event.id).await.version, 2);
    })
    .await;
}
