//! Puts the invented club into an empty database: its people, squads and bows, and then the year that
//! they had.

use anyhow::Context;
use domain::{
    bows::{Bow, BowLengthIn, DrawWeightLbf},
    clubs::Club,
    ids::{BowId, ClubId, MemberId, SquadId},
    members::{EmailAddress, Guardian, Member, Role},
    rules::default_book,
    squads::Squad,
    text::Name,
    time::Zone,
};
use jiff::{SignedDuration, Timestamp, civil::Time};
use store::{Tx, fresh_id};

use super::{
    people::{ARCHERS, Archer, COACHES, OWNER, PASSWORD, Person, SQUADS},
    season::Season,
    story,
};

/// How many days of logs there are.
pub(super) const DAYS: usize = 365;

/// Where the invented club shoots.
pub(super) fn zone() -> Zone {
    Zone::parse("Europe/Lisbon").unwrap_or_else(|_unknown| Zone::utc())
}

/// The invented club in a transaction, as it stands at `now`.
pub(super) struct Scene<'t, 'c> {
    pub(super) tx: &'t mut Tx<'c>,
    pub(super) club: ClubId,
    pub(super) now: Timestamp,
}

impl Scene<'_, '_> {
    /// A time of day so many days ago.
    pub(super) fn at(&self, days_ago: usize, time: Time) -> Timestamp {
        let hours = i64::try_from(24 * days_ago).unwrap_or(0);
        let then = self.now.checked_sub(SignedDuration::from_hours(hours)).unwrap_or(self.now);
        zone().instant(zone().date_of(then), time).unwrap_or(then)
    }
}

/// Somebody who shoots a bow.
pub(super) struct Shooter {
    pub(super) archer: &'static Archer,
    pub(super) member: MemberId,
    pub(super) bow: BowId,
}

/// Puts the club into an empty database, as it stands at `now`.
pub(super) fn fill(tx: &mut Tx<'_>, now: Timestamp) -> anyhow::Result<Club> {
    let begun = now.checked_sub(SignedDuration::from_hours(24 * 366)).unwrap_or(now);
    let name = Name::parse("Larkspur Hollow Bowmen (invented)")?;
    let club = Club::new(fresh_id(begun), name, zone(), begun);
    store::clubs::add(tx, &club)?;
    for rule in default_book(begun, || fresh_id(begun)) {
        store::rules::add(tx, club.id, &rule)?;
    }
    // One hash for all: it is slow on purpose, and everybody has the same password.
    let hash = api::hash_password(PASSWORD).context("a password could not be hashed")?;
    let mut scene = Scene { tx, club: club.id, now };
    let owner = scene.join((&OWNER, Role::Owner, None), &hash, begun)?;
    let coaches = COACHES.iter().map(|coach| scene.join((coach, Role::Coach, None), &hash, begun));
    let coaches = coaches.collect::<anyhow::Result<Vec<MemberId>>>()?;
    let mut shooters = Vec::with_capacity(ARCHERS.len());
    for archer in &ARCHERS {
        let who = (&archer.person, Role::Archer, archer.guardian.as_ref());
        let member = scene.join(who, &hash, begun)?;
        let bow = scene.add_bow(archer, member, begun)?;
        shooters.push(Shooter { archer, member, bow });
    }
    scene.make_squads(&coaches, &shooters, begun)?;
    for (number, shooter) in shooters.iter().enumerate() {
        Season::of(&mut scene, shooter, number)?.shoot()?;
    }
    story::tell(&mut scene, owner, &coaches, &shooters)?;
    Ok(club)
}

impl Scene<'_, '_> {
    fn join(
        &mut self,
        (person, role, guardian): (&Person, Role, Option<&Person>),
        hash: &str,
        at: Timestamp,
    ) -> anyhow::Result<MemberId> {
        let (name, email) = (Name::parse(person.name)?, EmailAddress::parse(person.email)?);
        let mut member = Member::new(fresh_id(at), name, email, role, at);
        if let Some(guardian) = guardian {
            let today = zone().date_of(self.now);
            member.minor_until = Some(today.saturating_add(jiff::Span::new().years(3)));
            member.guardian = Some(Guardian {
                name: Name::parse(guardian.name)?,
                email: EmailAddress::parse(guardian.email)?,
                consented_on: Some(zone().date_of(at)),
            });
        }
        store::members::add(self.tx, self.club, &member)?;
        store::members::allow_sign_in(self.tx, self.club, &member, hash.to_owned())?;
        Ok(member.id)
    }

    fn add_bow(
        &mut self,
        archer: &Archer,
        member: MemberId,
        at: Timestamp,
    ) -> anyhow::Result<BowId> {
        let bow = Bow {
            id: fresh_id(at),
            name: Name::parse(archer.bow)?,
            division: archer.division,
            length: BowLengthIn::new(archer.length_in)?,
            draw_weight: DrawWeightLbf::new(archer.weight_lbf)?,
            owner: Some(member),
            archer: Some(member),
            keeper: None,
            version: 1,
            created_at: at,
        };
        store::bows::add(self.tx, self.club, &bow)?;
        Ok(bow.id)
    }

    fn make_squads(
        &mut self,
        coaches: &[MemberId],
        shooters: &[Shooter],
        at: Timestamp,
    ) -> anyhow::Result<()> {
        for (number, (name, coach)) in SQUADS.iter().zip(coaches).enumerate() {
            let own = shooters.iter().filter(|shooter| shooter.archer.squad == number);
            let squad = Squad {
                id: fresh_id::<SquadId>(at),
                name: Name::parse(name)?,
                coaches: [*coach].into(),
                archers: own.map(|shooter| shooter.member).collect(),
                version: 1,
                created_at: at,
            };
            store::squads::add(self.tx, self.club, &squad)?;
        }
        Ok(())
    }
}
