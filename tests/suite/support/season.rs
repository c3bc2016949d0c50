//! What a season needs beside a bow: squads, events, and weeks of shooting. The rows are put into the
//! store, so that a test of a list needs no other address.

use std::collections::BTreeSet;

use domain::{
    events::{Entry, Event, EventDates, Priority},
    ids::{BowId, EventId, MemberId, SquadId},
    squads::Squad,
    text::Name,
    time::{Clock, parse_date},
};
use serde_json::json;
use store::{StoreError, Tx, fresh_id};

use super::{Club, Kit, Person};

impl Club {
    /// A squad of these people.
    pub(crate) fn squad(&self, name: &str, coaches: &[&Person], archers: &[&Person]) -> SquadId {
        let now = self.clock.now();
        let people = |people: &[&Person]| people.iter().map(|one| one.id()).collect();
        let squad = Squad {
            id: fresh_id(now),
            name: Name::parse(name).unwrap(),
            coaches: people(coaches),
            archers: people(archers),
            version: 1,
            created_at: now,
        };
        let (club, id) = (self.id, squad.id);
        self.put(move |tx| store::squads::add(tx, club, &squad));
        id
    }

    /// A regular event of two days, and who goes there with which bow.
    pub(crate) fn event(
        &self,
        name: &str,
        starts_on: &str,
        entries: &[(&Person, &String)],
    ) -> EventId {
        let now = self.clock.now();
        let first = parse_date(starts_on).unwrap();
        let event = Event {
            id: fresh_id(now),
            name: Name::parse(name).unwrap(),
            dates: EventDates::new(first, first.tomorrow().unwrap()).unwrap(),
            priority: Priority::Regular,
            arrows_expected: 144,
            blocked_days: BTreeSet::new(),
            version: 1,
            cancelled_at: None,
            created_by: self.owner().id(),
            created_at: now,
            changed_at: now,
        };
        let going = entries.iter().map(|(person, bow)| Entry {
            member: person.id(),
            bow: BowId(bow.parse().unwrap()),
            spare: None,
        });
        let (club, id, going) = (self.id, event.id, going.collect::<Vec<_>>());
        self.put(move |tx| {
            store::events::add(tx, club, &event)?;
            store::events::set_entries(tx, club, &event, &going).map(drop)
        });
        id
    }

    fn put(&self, f: impl FnOnce(&mut Tx<'_>) -> Result<(), StoreError> + Send + 'static) {
        tokio::runtime::Runtime::new().unwrap().block_on(self.store.write(f)).unwrap();
    }
}

impl Kit {
    /// A bow that was strung and served eight weeks before 1 March 2027, and shot 100 times in each of
    /// them.
    pub(crate) fn shot_evenly(by: &Person, archer: Option<MemberId>) -> Self {
        let since = "2027-01-04T06:00:00Z";
        let (bow, string) = (Self::bow(by, archer), Self::part(by, "string"));
        let serving = Self::part(by, "center_serving");
        let fit = |body| by.post("/fittings", &body).expect(201)["id"].as_str().unwrap().to_owned();
        let string_fitting = fit(json!({"part_id": string, "bow_id": bow, "at": since}));
        fit(json!({"part_id": serving, "host_part_id": string, "at": since}));
        for day in [
            "2027-01-04",
            "2027-01-11",
            "2027-01-18",
            "2027-01-25",
            "2027-02-01",
            "2027-02-08",
            "2027-02-15",
            "2027-02-22",
        ] {
            let log = json!({"bow_id": bow, "at": day, "shots": 100});
            by.post("/shot-logs", &log).expect(201);
        }
        Self { bow, string, string_fitting, serving }
    }
}
