//! An archer who was mailed that their string wants waxing, and nothing else.

use domain::ids::MemberId;
use jiff::SignedDuration;
use serde_json::{Value, json};
use store::testing::Fresh;

use super::{Club, Kit, Person};

pub(crate) const DAY: SignedDuration = SignedDuration::from_hours(24);

/// A bow of an archer, whose string was shot 520 times and never waxed: 500 are planned.
pub(crate) struct Neglected {
    pub(crate) bow: String,
    pub(crate) string: String,
}

impl Neglected {
    pub(crate) fn of(club: &Club, archer: Option<MemberId>) -> Self {
        let (owner, now) = (club.owner(), club.now());
        let (bow, string) = (Kit::bow(owner, archer), Kit::part(owner, "string"));
        let fitting = json!({"part_id": string, "bow_id": bow, "at": now});
        owner.post("/fittings", &fitting).expect(201);
        Kit::measured(owner, &string, &now);
        let it = Self { bow, string };
        it.shot(club, 520);
        it
    }

    pub(crate) fn shot(&self, club: &Club, shots: u32) {
        let log = json!({"bow_id": self.bow, "at": club.now(), "shots": shots});
        club.owner().post("/shot-logs", &log).expect(201);
    }

    /// How often the string was waxed, as the record has it.
    pub(crate) fn waxed(&self, club: &Club) -> Vec<Value> {
        let work = club.owner().get(&format!("/upkeep?part_id={}", self.string)).expect(200);
        let all = work["data"].as_array().unwrap().iter();
        all.filter(|one| one["task"] == "waxed").cloned().collect()
    }
}

/// That archer on Tuesday 2 March 2027 at nine, with the mail of that morning.
pub(crate) struct Told {
    pub(crate) club: Club,
    pub(crate) archer: Person,
    pub(crate) of: Neglected,
    pub(crate) mail: Value,
}

impl Told {
    pub(crate) fn in_database(database: &Fresh) -> Self {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let of = Neglected::of(&club, Some(archer.id()));
        assert_eq!(club.sweep()["check_maintenance"], 1);
        club.clock.advance(DAY);
        assert_eq!(club.sweep()["deliver_mail"], 1);
        let mail = club.mails().pop().unwrap();
        Self { club, archer, of, mail }
    }

    /// The only reminder of all this, as its recipient reads it.
    pub(crate) fn reminder(&self) -> Value {
        let list = self.archer.get("/reminders").expect(200);
        assert_eq!(list["data"].as_array().unwrap().len(), 1, "{list}");
        list["data"][0].clone()
    }

    /// A day later, after a round of the worker: how many mails went out in it.
    pub(crate) fn next_day(&self) -> Value {
        self.club.clock.advance(DAY);
        self.club.sweep()["deliver_mail"].clone()
    }
}
