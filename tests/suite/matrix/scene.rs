//! What the owner of our club puts on record for somebody to ask about: each time something fresh, so
//! that what one caller does to it changes nothing for the next.

use std::cell::Cell;

use serde_json::{Value, json};

use super::callers::{MARK, People};
use crate::support::{Club, Person};

/// When bows were strung here.
pub(super) const STRUNG: &str = "2027-02-28T08:00:00Z";
/// When people do what they ask for.
pub(super) const AT: &str = "2027-03-01T08:00:00Z";

/// A strung and served bow of the archer, that the keeper keeps.
pub(super) struct Strung {
    pub(super) bow: String,
    pub(super) string: String,
    pub(super) string_fitting: String,
}

pub(super) struct Scene<'a> {
    pub(super) club: &'a Club,
    pub(super) people: &'a People,
    /// The first on record, shot so much that something is due: at the head of every list.
    pub(super) standing: Strung,
    made: Cell<u32>,
}

fn id(body: &Value) -> String {
    body["id"].as_str().unwrap().to_owned()
}

impl<'a> Scene<'a> {
    pub(super) fn of(club: &'a Club, people: &'a People) -> Self {
        let owner = club.owner();
        let standing = strung(owner, people);
        let log = json!({"bow_id": standing.bow, "at": AT, "shots": 520, "note": MARK});
        owner.post("/shot-logs", &log).expect(201);
        // Something is due by now, and its people are told.
        assert!(club.sweep()["check_maintenance"].as_u64() > Some(0));
        Self { club, people, standing, made: Cell::new(0) }
    }

    pub(super) fn owner(&self) -> &Person {
        self.club.owner()
    }

    /// A number that was not given before.
    pub(super) fn fresh_number(&self) -> u32 {
        self.made.set(self.made.get() + 1);
        self.made.get()
    }

    pub(super) fn strung(&self) -> Strung {
        strung(self.owner(), self.people)
    }

    /// A bow of the archer without anything on it.
    pub(super) fn bow(&self) -> String {
        bow(self.owner(), self.people)
    }

    /// A string in the case.
    pub(super) fn string(&self) -> String {
        part(self.owner(), "string")
    }

    /// Somebody who was invited into the archer's squad.
    pub(super) fn invited(&self) -> String {
        let number = self.fresh_number();
        let body = json!({"name": format!("Runa {MARK}"), "role": "archer",
            "email": format!("{MARK}.{number}@club.example"), "squad_ids": [self.people.squad]});
        id(&self.owner().post("/members", &body).expect(201))
    }

    /// An address that nobody has.
    pub(super) fn free_address(&self) -> String {
        format!("sent.in.{}@club.example", self.fresh_number())
    }

    /// A squad like the archer's.
    pub(super) fn squad(&self) -> String {
        let People { coach, archer, .. } = self.people;
        let body = json!({"name": format!("Thursdays {MARK}"), "coach_member_ids": [coach.id().0],
            "archer_member_ids": [archer.id().0]});
        id(&self.owner().post("/squads", &body).expect(201))
    }

    /// A log that the archer entered.
    pub(super) fn log(&self) -> String {
        let log = json!({"bow_id": self.strung().bow, "at": AT, "shots": 30, "note": MARK});
        id(&self.people.archer.post("/shot-logs", &log).expect(201)["shot_log"])
    }

    /// A reminder to the archer to wax a string of theirs.
    pub(super) fn reminder(&self) -> String {
        let (on, archer) = (self.strung(), self.people.archer.id());
        let log = json!({"bow_id": on.bow, "at": AT, "shots": 520, "note": MARK});
        self.owner().post("/shot-logs", &log).expect(201);
        self.club.sweep();
        let path = format!("/reminders?bow_id={}&member_id={archer}", on.bow);
        let told = self.owner().get(&path).expect(200);
        id(told["data"].as_array().unwrap().iter().find(|one| one["task"] == "wax").unwrap())
    }

    /// Two logs of one shooting that the archer entered, of one bow.
    pub(super) fn twice(&self) -> [String; 2] {
        let bow = self.strung().bow;
        let log = json!({"bow_id": bow, "at": AT, "shots": 30, "note": MARK});
        [(); 2].map(|()| id(&self.people.archer.post("/shot-logs", &log).expect(201)["shot_log"]))
    }

    /// Work on the archer's string that the archer entered.
    pub(super) fn work(&self) -> String {
        let work = json!({"part_id": self.strung().string, "task": "waxed", "at": AT});
        id(&self.people.archer.post("/upkeep", &work).expect(201))
    }

    /// The id of a token of a script of the archer's.
    pub(super) fn token(&self) -> String {
        let body = json!({"name": format!("Script {MARK}"), "scope": "read"});
        id(&self.people.archer.post("/tokens", &body).expect(201))
    }

    /// The id of a calendar of the archer's.
    pub(super) fn feed(&self) -> String {
        let body = json!({"name": format!("Phone {MARK}"), "scope": "mine"});
        id(&self.people.archer.post("/feeds", &body).expect(201))
    }

    /// A rule by which nobody was reminded.
    pub(super) fn rule(&self) -> String {
        let rules = self.owner().get("/rules").expect(200);
        // A bow that was shot a little needs neither yet.
        let idle = |rule: &&Value| ["change", "re_serve"].contains(&rule["task"].as_str().unwrap());
        id(rules["data"].as_array().unwrap().iter().find(idle).unwrap())
    }

    /// An event to which the archer goes with the standing bow.
    pub(super) fn event(&self) -> String {
        let body = json!({"name": format!("Cup {MARK}"), "starts_on": "2027-05-01",
            "ends_on": "2027-05-02", "priority": "major", "arrows_expected": 144});
        let event = id(&self.owner().post("/events", &body).expect(201));
        let path = format!("/events/{event}/entries");
        self.owner().put(&path, "*", &self.entries()).expect(200);
        event
    }

    /// The entries that put the archer on an event's list.
    pub(super) fn entries(&self) -> Value {
        json!({"entries": [{"member_id": self.people.archer.id().0,
            "bow_id": self.standing.bow}]})
    }
}

fn strung(owner: &Person, people: &People) -> Strung {
    let bow = bow(owner, people);
    let (string, serving) = (part(owner, "string"), part(owner, "center_serving"));
    let fit = |body: Value| id(&owner.post("/fittings", &body).expect(201));
    let string_fitting = fit(json!({"part_id": string, "bow_id": bow, "at": STRUNG}));
    fit(json!({"part_id": serving, "host_part_id": string, "at": STRUNG}));
    Strung { bow, string, string_fitting }
}

fn bow(owner: &Person, people: &People) -> String {
    let body = json!({"name": format!("Recurve {MARK}"), "division": "recurve",
        "bow_length_in": 68, "draw_weight_lbf": 36.5, "archer_member_id": people.archer.id().0,
        "keeper_member_id": people.keeper.id().0});
    id(&owner.post("/bows", &body).expect(201))
}

fn part(owner: &Person, kind: &str) -> String {
    let body = json!({"kind": kind, "name": format!("{kind} {MARK}")});
    id(&owner.post("/parts", &body).expect(201))
}
