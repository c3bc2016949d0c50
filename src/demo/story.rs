//! What else happened in the invented club: a dry fire, a marked serving, two strings that were
//! swapped, the club's own bow, and two events ahead.

use std::collections::BTreeMap;

use anyhow::Context;
use domain::{
    bows::{Bow, BowLengthIn, Division, DrawWeightLbf},
    events::{Entry, Event, EventDates, Priority},
    fittings::Host,
    ids::{EventId, FittingId, IncidentId, MemberId, UpkeepId},
    incidents::{Incident, IncidentKind},
    parts::{Part, PartKind},
    text::{Name, Note},
    upkeep::{Finding, Grade, Upkeep, UpkeepTask},
};
use jiff::{Span, civil::time};
use store::fresh_id;

use super::club::{Scene, Shooter, zone};

/// Tells it, once everybody's year has been told.
pub(super) fn tell(
    scene: &mut Scene<'_, '_>,
    owner: MemberId,
    coaches: &[MemberId],
    shooters: &[Shooter],
) -> anyhow::Result<()> {
    let of = |name: &str| {
        let mut found = shooters.iter().filter(|shooter| shooter.archer.person.name == name);
        found.next().with_context(|| format!("{name} is not in the club"))
    };
    scene.swap_strings(of("Ilse Quillfeather")?, of("Noor Featherstonehay")?, 9)?;
    scene.dry_fire(of("Corwin Peasemould")?, 1)?;
    scene.mark_a_serving(of("Rafe Corncrake")?, 4)?;
    let keeper = coaches.first().copied().context("the club has a coach")?;
    scene.add_club_bow(shooters.first().context("the club has archers")?, keeper)?;
    scene.plan_events(owner, shooters)
}

impl Scene<'_, '_> {
    /// The part of a kind that hangs under a bow now.
    fn under(&mut self, shooter: &Shooter, kind: PartKind) -> anyhow::Result<Part> {
        for part in store::fittings::under_bow(self.tx, self.club, shooter.bow, self.now)? {
            let part = store::parts::get(self.tx, self.club, part)?;
            if part.kind == kind {
                return Ok(part);
            }
        }
        anyhow::bail!("{} has no {}", shooter.archer.bow, kind.label())
    }

    /// Two strings change places, their servings with them.
    fn swap_strings(&mut self, a: &Shooter, b: &Shooter, days_ago: usize) -> anyhow::Result<()> {
        let at = self.at(days_ago, time(16, 0, 0, 0));
        let strings =
            [(self.under(a, PartKind::Bowstring)?, b), (self.under(b, PartKind::Bowstring)?, a)];
        for (string, _) in &strings {
            let stays = store::fittings::of_part(self.tx, self.club, string.id)?;
            let open = stays.into_iter().find(|stay| stay.to.is_none());
            let open: FittingId = open.context("the string is fitted")?.id;
            store::fittings::take_off::<anyhow::Error>(self.tx, self.club, open, at)?;
        }
        for (string, onto) in &strings {
            self.fit(string.id, Host::Bow(onto.bow), days_ago)?;
        }
        Ok(())
    }

    fn dry_fire(&mut self, shooter: &Shooter, days_ago: usize) -> anyhow::Result<()> {
        let at = self.at(days_ago, time(18, 40, 0, 0));
        let incident = Incident {
            id: fresh_id::<IncidentId>(at),
            bow_id: shooter.bow,
            kind: IncidentKind::DryFire,
            at,
            note: Note::parse("release went off at half draw, no arrow on the string")?,
            entered_by: shooter.member,
            received_at: at,
        };
        Ok(store::incidents::add(self.tx, self.club, &incident)?)
    }

    fn mark_a_serving(&mut self, shooter: &Shooter, days_ago: usize) -> anyhow::Result<()> {
        let at = self.at(days_ago, time(16, 45, 0, 0));
        let serving = self.under(shooter, PartKind::CenterServing)?;
        let id = fresh_id::<UpkeepId>(at);
        let work = Upkeep::new(id, serving.id, UpkeepTask::Inspected, at, shooter.member);
        let findings = BTreeMap::from([(Finding::FlatServing, Grade::Marked)]);
        let work = Upkeep { findings, ..work };
        Ok(store::upkeep::record(self.tx, self.club, &serving, &work)?)
    }

    /// A bow that the club lends out: a coach keeps it, nobody shoots it for now.
    fn add_club_bow(&mut self, like: &Shooter, keeper: MemberId) -> anyhow::Result<()> {
        let at = self.at(120, time(10, 0, 0, 0));
        let bow = Bow {
            id: fresh_id(at),
            name: Name::parse("Club bow 1")?,
            division: Division::Recurve,
            length: BowLengthIn::new(66.0)?,
            draw_weight: DrawWeightLbf::new(24.0)?,
            owner: None,
            archer: None,
            keeper: Some(keeper),
            version: 1,
            created_at: at,
        };
        store::bows::add(self.tx, self.club, &bow)?;
        let string = self.new_part(like, PartKind::Bowstring, None, 120)?;
        self.fit(string.id, Host::Bow(bow.id), 120)?;
        let serving = self.new_part(like, PartKind::CenterServing, None, 120)?;
        self.fit(serving.id, Host::Part(string.id), 120)
    }

    /// One event in two weeks and one in six.
    fn plan_events(&mut self, owner: MemberId, shooters: &[Shooter]) -> anyhow::Result<()> {
        let soon = ("Hollow Spring Round (invented)", Priority::Regular, 12, 72, 2, 0);
        let later = ("Larkspur Open (invented)", Priority::Major, 40, 144, 3, 2);
        for (name, priority, in_days, arrows, every, travel) in [soon, later] {
            let today = zone().date_of(self.now);
            let starts_on = today.saturating_add(Span::new().days(in_days));
            let event = Event {
                id: fresh_id::<EventId>(self.now),
                name: Name::parse(name)?,
                dates: EventDates::new(starts_on, starts_on.tomorrow()?)?,
                priority,
                arrows_expected: arrows,
                blocked_days: (1..=travel)
                    .map(|before| starts_on.saturating_sub(Span::new().days(before)))
                    .collect(),
                version: 1,
                cancelled_at: None,
                created_by: owner,
                created_at: self.now,
                changed_at: self.now,
            };
            store::events::add(self.tx, self.club, &event)?;
            let going = shooters.iter().step_by(every);
            let entries: Vec<Entry> = going
                .map(|shooter| Entry { member: shooter.member, bow: shooter.bow, spare: None })
                .collect();
            store::events::set_entries(self.tx, self.club, &event, &entries)?;
        }
        Ok(())
    }
}
