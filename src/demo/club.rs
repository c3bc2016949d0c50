//! The invented club. Nobody here exists, and no string here was ever shot.

use anyhow::Context;
use domain::{
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    clubs::Club,
    fittings::{Fitting, Host},
    ids::{BowId, ClubId, FittingId, MemberId, PartId, RuleId, UpkeepId},
    members::{EmailAddress, Member, Role},
    parts::{Part, PartKind, Start},
    rules::default_book,
    text::Name,
    time::Zone,
    upkeep::{Upkeep, UpkeepTask},
};
use jiff::{SignedDuration, Timestamp};
use store::{Tx, fresh_id};

use super::season;

/// What everybody in the demo signs in with.
pub(super) const PASSWORD: &str = "an invented password";
/// How many days of logs there are.
pub(super) const DAYS: usize = 150;

/// A person of the invented club.
pub(super) struct Person {
    name: &'static str,
    pub(super) email: &'static str,
    pub(super) role: Role,
}

const fn person(name: &'static str, email: &'static str, role: Role) -> Person {
    Person { name, email, role }
}

/// Everybody in the invented club.
pub(super) const PEOPLE: [Person; 6] = [
    person("Odile Marrowgate", "odile@larkspur.example", Role::Owner),
    person("Benno Thistledown", "benno@larkspur.example", Role::Coach),
    person("Tamsin Oakapple", "tamsin@larkspur.example", Role::Archer),
    person("Ruan Pennywhistle", "ruan@larkspur.example", Role::Archer),
    person("Ysa Underhedge", "ysa@larkspur.example", Role::Archer),
    person("Kolja Reedmace", "kolja@larkspur.example", Role::Archer),
];

/// A bow of the invented club, its string, and what was done to it when.
pub(super) struct Kit {
    name: &'static str,
    division: Division,
    length_in: f64,
    weight_lbf: f64,
    /// Who shoots it and who keeps it, by their place among the people.
    pub(super) archer: usize,
    keeper: Option<usize>,
    material: &'static str,
    strands: u16,
    starting_shots: u32,
    /// Days ago: first fitted, waxed, serving wound, serving inspected.
    fitted: usize,
    waxed: usize,
    served: usize,
    inspected: usize,
    /// Shots of an ordinary practice, and how many a week.
    pub(super) per_practice: i64,
    pub(super) per_week: u32,
}

/// Every bow of the invented club.
pub(super) const KITS: [Kit; 5] = [
    Kit {
        name: "Tamsin's red recurve",
        division: Division::Recurve,
        length_in: 68.0,
        weight_lbf: 38.0,
        archer: 2,
        keeper: None,
        material: "HMPE",
        strands: 20,
        starting_shots: 4_200,
        fitted: 140,
        waxed: 9,
        served: 58,
        inspected: 16,
        per_practice: 130,
        per_week: 4,
    },
    Kit {
        name: "Ruan's green recurve",
        division: Division::Recurve,
        length_in: 70.0,
        weight_lbf: 42.0,
        archer: 3,
        keeper: Some(1),
        material: "HMPE",
        strands: 18,
        starting_shots: 9_100,
        fitted: 148,
        waxed: 5,
        served: 61,
        inspected: 12,
        per_practice: 110,
        per_week: 3,
    },
    Kit {
        name: "Ysa's barebow",
        division: Division::Barebow,
        length_in: 66.0,
        weight_lbf: 34.0,
        archer: 4,
        keeper: None,
        material: "polyester",
        strands: 14,
        starting_shots: 0,
        fitted: 90,
        waxed: 31,
        served: 90,
        inspected: 26,
        per_practice: 60,
        per_week: 2,
    },
    Kit {
        name: "Kolja's longbow",
        division: Division::Longbow,
        length_in: 68.0,
        weight_lbf: 45.0,
        archer: 5,
        keeper: None,
        material: "polyester",
        strands: 16,
        starting_shots: 0,
        fitted: 11,
        waxed: 3,
        served: 11,
        inspected: 3,
        per_practice: 36,
        per_week: 3,
    },
    Kit {
        name: "Club bow 1",
        division: Division::Recurve,
        length_in: 66.0,
        weight_lbf: 24.0,
        archer: 5,
        keeper: Some(1),
        material: "polyester",
        strands: 12,
        starting_shots: 800,
        fitted: 120,
        waxed: 12,
        served: 120,
        inspected: 33,
        per_practice: 40,
        per_week: 2,
    },
];

/// Where the invented club shoots.
pub(super) fn zone() -> Zone {
    Zone::parse("Europe/Lisbon").unwrap_or_else(|_unknown| Zone::utc())
}

/// Puts the club into an empty database, as it stands at `now`.
pub(super) fn fill(tx: &mut Tx<'_>, now: Timestamp) -> anyhow::Result<Club> {
    let begun = days_ago(now, DAYS);
    let name = Name::parse("Larkspur Hollow Bowmen (invented)")?;
    let club = Club::new(fresh_id(begun), name, zone(), begun);
    store::clubs::add(tx, &club)?;
    for rule in default_book(begun, || fresh_id::<RuleId>(begun)) {
        store::rules::add(tx, club.id, &rule)?;
    }
    let people = PEOPLE.iter().map(|person| join(tx, club.id, person, begun));
    let people = people.collect::<anyhow::Result<Vec<MemberId>>>()?;
    for (number, kit) in KITS.iter().enumerate() {
        let bow = set_up(tx, club.id, kit, &people, now)?;
        season::shoot(tx, club.id, bow, kit, number, &people, now)?;
    }
    Ok(club)
}

/// So many days before a moment.
pub(super) fn days_ago(now: Timestamp, days: usize) -> Timestamp {
    let hours = i64::try_from(24 * days).unwrap_or(0);
    now.checked_sub(SignedDuration::from_hours(hours)).unwrap_or(now)
}

fn join(tx: &mut Tx<'_>, club: ClubId, person: &Person, at: Timestamp) -> anyhow::Result<MemberId> {
    let (name, email) = (Name::parse(person.name)?, EmailAddress::parse(person.email)?);
    let member = Member::new(fresh_id(at), name, email, person.role, at);
    let hash = api::hash_password(PASSWORD).context("a password could not be hashed")?;
    store::members::add(tx, club, &member)?;
    store::members::allow_sign_in(tx, club, &member, hash)?;
    Ok(member.id)
}

/// A bow with a string and a serving on it, waxed and inspected when the kit says.
fn set_up(
    tx: &mut Tx<'_>,
    club: ClubId,
    kit: &Kit,
    people: &[MemberId],
    now: Timestamp,
) -> anyhow::Result<BowId> {
    let at = days_ago(now, kit.fitted);
    let archer = people.get(kit.archer).copied();
    let bow = Bow {
        id: fresh_id::<BowId>(at),
        name: Name::parse(kit.name)?,
        division: kit.division,
        length: BowLengthIn::new(kit.length_in)?,
        draw_weight: DrawWeightLbf::new(kit.weight_lbf)?,
        owner: archer.filter(|_| kit.keeper.is_none()),
        archer,
        keeper: kit.keeper.and_then(|keeper| people.get(keeper).copied()),
        version: 1,
        created_at: at,
    };
    store::bows::add(tx, club, &bow)?;
    let start = (kit.starting_shots > 0).then_some(Start { shots: kit.starting_shots, at });
    let string = add_part(tx, club, (PartKind::Bowstring, kit, start), at)?;
    fit(tx, club, string.id, Host::Bow(bow.id), at)?;
    let served_at = days_ago(now, kit.served);
    let serving = add_part(tx, club, (PartKind::CenterServing, kit, None), served_at)?;
    fit(tx, club, serving.id, Host::Part(string.id), served_at)?;
    let by = archer.or_else(|| people.first().copied());
    for (part, task, days) in
        [(&string, UpkeepTask::Waxed, kit.waxed), (&serving, UpkeepTask::Inspected, kit.inspected)]
    {
        let Some(entered_by) = by else { continue };
        let at = days_ago(now, days);
        let work = Upkeep::new(fresh_id::<UpkeepId>(at), part.id, task, at, entered_by);
        store::upkeep::record(tx, club, part, &work)?;
    }
    Ok(bow.id)
}

fn add_part(
    tx: &mut Tx<'_>,
    club: ClubId,
    (kind, kit, start): (PartKind, &Kit, Option<Start>),
    at: Timestamp,
) -> anyhow::Result<Part> {
    let on_string = kind == PartKind::Bowstring;
    let name = if on_string {
        format!("{} strands of {}", kit.strands, kit.material)
    } else {
        "braided nylon".to_owned()
    };
    let part = Part {
        id: fresh_id::<PartId>(at),
        kind,
        name: Name::parse(&name)?,
        material: Some(Name::parse(if on_string { kit.material } else { "braided nylon" })?),
        strands: on_string.then_some(kit.strands),
        made_on: Some(zone().date_of(at)),
        start,
        unit_cost: None,
        retirement: None,
        created_at: at,
    };
    store::parts::add(tx, club, &part)?;
    Ok(part)
}

fn fit(
    tx: &mut Tx<'_>,
    club: ClubId,
    part_id: PartId,
    host: Host,
    from: Timestamp,
) -> anyhow::Result<()> {
    let fitting = Fitting { id: fresh_id::<FittingId>(from), part_id, host, from, to: None };
    store::fittings::fit::<anyhow::Error>(tx, club, &fitting)
}
