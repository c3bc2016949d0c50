//! The two invented clubs that are measured on: one that logs, one that asks what is due.

use domain::{
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    clubs::Club,
    fittings::{Fitting, Host},
    ids::{BowId, ClubId, FittingId, MemberId, PartId, RuleId, ShotLogId},
    ledger::{LogKind, LogTime, ShotLog, Shots},
    members::{EmailAddress, Member, Role},
    parts::{Part, PartKind},
    rules::default_book,
    text::{Name, Note},
    time::Zone,
};
use jiff::{SignedDuration, Timestamp};
use store::{Store, Tx, fresh_id};

/// What both owners sign in with.
pub(crate) const PASSWORD: &str = "an invented password";
/// The owner of the club that logs.
pub(crate) const LOGGER: &str = "logger@floors.example";
/// The owner of the club that asks what is due.
pub(crate) const ASKER: &str = "asker@floors.example";
/// Bows that each connection logs for.
pub(crate) const BOWS_EACH: usize = 20;
/// Bows of the club that asks what is due.
pub(crate) const DUE_BOWS: usize = 100;
/// Logs of each of those.
pub(crate) const LOGS_EACH: i64 = 200;

/// A club, its owner, its bows, and the string on each of them.
pub(crate) struct Seeded {
    pub(crate) club: ClubId,
    owner: MemberId,
    pub(crate) bows: Vec<BowId>,
    pub(crate) strings: Vec<PartId>,
}

/// The club that logs: for each connection bows of its own, each with a string and a serving.
pub(crate) async fn logging(
    store: &Store,
    connections: usize,
    now: Timestamp,
) -> anyhow::Result<Seeded> {
    store
        .write(move |tx| {
            let kinds = [PartKind::CenterServing];
            add_club(tx, LOGGER, connections * BOWS_EACH, &kinds, now)
        })
        .await
}

/// The club that asks: three parts on each bow, and a year of logs on record.
pub(crate) async fn asking(store: &Store, now: Timestamp) -> anyhow::Result<Seeded> {
    let seeded = asking_alone(store, now).await?;
    for chunk in seeded.bows.chunks(10) {
        let (bows, club, owner) = (chunk.to_vec(), seeded.club, seeded.owner);
        store
            .write(move |tx| bows.iter().try_for_each(|&bow| add_logs(tx, club, owner, bow, now)))
            .await?;
    }
    Ok(seeded)
}

/// The club that asks, without a log.
pub(crate) async fn asking_alone(store: &Store, now: Timestamp) -> anyhow::Result<Seeded> {
    let kinds = [PartKind::CenterServing, PartKind::NockingPoint];
    store.write(move |tx| add_club(tx, ASKER, DUE_BOWS, &kinds, now)).await
}

fn add_club(
    tx: &mut Tx<'_>,
    email: &str,
    bows: usize,
    on_string: &[PartKind],
    now: Timestamp,
) -> anyhow::Result<Seeded> {
    let begun = now - SignedDuration::from_hours(24 * 400);
    let (name, zone) = (Name::parse("An invented club")?, Zone::parse("Europe/Lisbon")?);
    let club = Club::new(fresh_id(begun), name, zone, begun);
    store::clubs::add(tx, &club)?;
    for rule in default_book(begun, || fresh_id::<RuleId>(begun)) {
        store::rules::add(tx, club.id, &rule)?;
    }
    let owner = add_owner(tx, club.id, email, begun)?;
    let mut seeded = Seeded { club: club.id, owner, bows: Vec::new(), strings: Vec::new() };
    for number in 1..=bows {
        let bow = add_bow(tx, club.id, number, begun)?;
        let host = Host::Bow(bow);
        let string = add_part(tx, club.id, (PartKind::Bowstring, number), host, begun)?;
        for &kind in on_string {
            add_part(tx, club.id, (kind, number), Host::Part(string), begun)?;
        }
        seeded.bows.push(bow);
        seeded.strings.push(string);
    }
    Ok(seeded)
}

fn add_owner(
    tx: &mut Tx<'_>,
    club: ClubId,
    email: &str,
    at: Timestamp,
) -> anyhow::Result<MemberId> {
    let (name, email) = (Name::parse("Nobody There")?, EmailAddress::parse(email)?);
    let member = Member::new(fresh_id(at), name, email, Role::Owner, at);
    let hash = api::hash_password(PASSWORD);
    let hash = hash.ok_or_else(|| anyhow::anyhow!("a password could not be hashed"))?;
    store::members::add(tx, club, &member)?;
    store::members::allow_sign_in(tx, club, &member, hash)?;
    Ok(member.id)
}

fn add_bow(
    tx: &mut Tx<'_>,
    club: ClubId,
    number: usize,
    created_at: Timestamp,
) -> anyhow::Result<BowId> {
    let bow = Bow {
        id: fresh_id::<BowId>(created_at),
        name: Name::parse(&format!("Club bow {number}"))?,
        division: Division::Recurve,
        length: BowLengthIn::new(68.0)?,
        draw_weight: DrawWeightLbf::new(34.0)?,
        owner: None,
        archer: None,
        keeper: None,
        version: 1,
        created_at,
    };
    store::bows::add(tx, club, &bow)?;
    Ok(bow.id)
}

fn add_part(
    tx: &mut Tx<'_>,
    club: ClubId,
    (kind, number): (PartKind, usize),
    host: Host,
    at: Timestamp,
) -> anyhow::Result<PartId> {
    let part = Part {
        id: fresh_id::<PartId>(at),
        kind,
        name: Name::parse(&format!("{} of club bow {number}", kind.label()))?,
        material: None,
        strands: None,
        made_on: None,
        start: None,
        unit_cost: None,
        retirement: None,
        created_at: at,
    };
    store::parts::add(tx, club, &part)?;
    let id = fresh_id::<FittingId>(at);
    let fitting = Fitting { id, part_id: part.id, host, from: at, to: None, version: 1 };
    store::fittings::fit::<anyhow::Error>(tx, club, &fitting)?;
    Ok(part.id)
}

fn add_logs(
    tx: &mut Tx<'_>,
    club: ClubId,
    entered_by: MemberId,
    bow_id: BowId,
    now: Timestamp,
) -> anyhow::Result<()> {
    for days in (1..=LOGS_EACH).rev() {
        let at = now - SignedDuration::from_hours(24 * days);
        let log = ShotLog {
            id: fresh_id::<ShotLogId>(at),
            bow_id,
            time: LogTime { at, stated: at, date_only: false, skew_s: None },
            shots: Shots::new(30 + days % 7 * 6)?,
            kind: LogKind::Practice,
            note: Note::default(),
            entered_by,
            received_at: at,
        };
        store::ledger::append(tx, club, &log)?;
    }
    Ok(())
}
