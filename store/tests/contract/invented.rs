//! Invented people, bows, parts and entries, as plain values: nothing here knows a database.

use domain::{
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    clearances::BowClearance,
    clubs::Club,
    fittings::{Fitting, Host},
    ids::{BowId, MemberId, PartId},
    incidents::{Incident, IncidentKind},
    ledger::{LogKind, LogTime, ShotLog, Shots},
    members::{EmailAddress, Member, Role},
    parts::{Part, PartKind},
    text::{Name, Note},
    time::Zone,
    upkeep::{Finding, Grade, Upkeep, UpkeepTask},
};
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

/// Noon UTC on a day of the scene; day 0 is 2027-03-01.
pub(crate) fn at(day: i64) -> Timestamp {
    at_hour(24 * day)
}

/// An hour of the scene; hour 0 is noon UTC on 2027-03-01.
pub(crate) fn at_hour(hour: i64) -> Timestamp {
    let noon: Timestamp = "2027-03-01T12:00:00Z".parse().unwrap();
    noon + SignedDuration::from_hours(hour)
}

/// The last instant before another that both databases can keep.
pub(crate) fn just_before(at: Timestamp) -> Timestamp {
    at - SignedDuration::from_micros(1)
}

pub(crate) fn id<T: From<Uuid>>() -> T {
    store::fresh_id(at(0))
}

pub(crate) fn name(text: &str) -> Name {
    Name::parse(text).unwrap()
}

pub(crate) fn note(text: &str) -> Note {
    Note::parse(text).unwrap()
}

pub(crate) fn club() -> Club {
    let zone = Zone::parse("Europe/Lisbon").unwrap();
    Club::new(id(), name("Invented Archers"), zone, at(-400))
}

pub(crate) fn member(role: Role) -> Member {
    let id: MemberId = id();
    let email = EmailAddress::parse(&format!("{id}@club.example")).unwrap();
    Member::new(id, name("Ada Invented"), email, role, at(-400))
}

pub(crate) fn bow(called: &str) -> Bow {
    Bow {
        id: id(),
        name: name(called),
        division: Division::Recurve,
        length: BowLengthIn::new(68.0).unwrap(),
        draw_weight: DrawWeightLbf::new(38.5).unwrap(),
        owner: None,
        archer: None,
        keeper: None,
        version: 1,
        created_at: at(-400),
    }
}

pub(crate) fn part(kind: PartKind) -> Part {
    Part {
        id: id(),
        kind,
        name: name(kind.label()),
        material: None,
        strands: None,
        made_on: None,
        start: None,
        unit_cost: None,
        retirement: None,
        created_at: at(-400),
    }
}

pub(crate) fn stay(part: PartId, host: Host, from: Timestamp, to: Option<Timestamp>) -> Fitting {
    Fitting { id: id(), part_id: part, host, from, to, version: 1 }
}

pub(crate) fn shot_log(by: MemberId, bow: BowId, at: Timestamp, shots: i64) -> ShotLog {
    ShotLog {
        id: id(),
        bow_id: bow,
        time: LogTime { at, stated: at, date_only: false, skew_s: None },
        shots: Shots::new(shots).unwrap(),
        kind: LogKind::Practice,
        note: Note::default(),
        entered_by: by,
        received_at: at,
    }
}

pub(crate) fn work(by: MemberId, part: PartId, task: UpkeepTask, at: Timestamp) -> Upkeep {
    Upkeep::new(id(), part, task, at, by)
}

pub(crate) fn incident(by: MemberId, bow: BowId, kind: IncidentKind, at: Timestamp) -> Incident {
    let note = note("on the practice range");
    Incident { id: id(), bow_id: bow, kind, at, note, entered_by: by, received_at: at }
}

/// An inspection of a bow as a whole that lifts what forbids shooting it.
pub(crate) fn clearance(by: MemberId, bow: BowId, at: Timestamp) -> BowClearance {
    let reason = note("limbs, tips and string looked over");
    BowClearance { id: id(), bow_id: bow, at, reason, entered_by: by, received_at: at }
}

/// An inspection that found this, at that grade.
pub(crate) fn found(work: Upkeep, finding: Finding, grade: Grade) -> Upkeep {
    Upkeep { findings: [(finding, grade)].into(), ..work }
}
