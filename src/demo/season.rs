//! The year of one archer: what they shot on which day, and what they did to their bow when. The same
//! every time for the same day.

use domain::{
    bows::Division,
    fittings::{Fitting, Host},
    ids::{FittingId, PartId, ShotLogId, UpkeepId},
    ledger::{LogKind, LogTime, ShotLog, Shots},
    parts::{End, Part, PartKind, Retirement, Start},
    text::{Name, Note},
    upkeep::{Upkeep, UpkeepTask},
};
use jiff::civil::time;
use store::fresh_id;

use super::club::{DAYS, Scene, Shooter, zone};

/// A season that is being told, day after day.
pub(super) struct Season<'s, 't, 'c> {
    scene: &'s mut Scene<'t, 'c>,
    shooter: &'s Shooter,
    number: usize,
    string: Part,
    serving: Part,
    /// Of a compound.
    d_loop: Option<Part>,
    /// What the archer's own count stands at: shots and days since each kind of work.
    counts: Counts,
}

/// What an archer counts in their head.
#[derive(Default)]
struct Counts {
    string: i64,
    serving: i64,
    waxed: (i64, i64),
    inspected: (i64, i64),
    set: (i64, i64),
    /// How often the brace height of this string was measured while it settled.
    measured: usize,
}

/// The counts at which a new string is measured.
const MEASURED_AT: [i64; 4] = [0, 50, 100, 200];

impl<'s, 't, 'c> Season<'s, 't, 'c> {
    /// A bow with a string and a serving on it, a year ago.
    pub(super) fn of(
        scene: &'s mut Scene<'t, 'c>,
        shooter: &'s Shooter,
        number: usize,
    ) -> anyhow::Result<Self> {
        let at = scene.at(DAYS, time(10, 0, 0, 0));
        let starting = shooter.archer.starting_shots;
        let start = (starting > 0).then_some(Start { shots: starting, at });
        let string = scene.new_part(shooter, PartKind::Bowstring, start, DAYS)?;
        scene.fit(string.id, Host::Bow(shooter.bow), DAYS)?;
        let serving = scene.new_part(shooter, PartKind::CenterServing, None, DAYS)?;
        scene.fit(serving.id, Host::Part(string.id), DAYS)?;
        if shooter.archer.division == Division::Compound {
            for kind in [PartKind::Cable, PartKind::Cable] {
                let cable = scene.new_part(shooter, kind, start, DAYS)?;
                scene.fit(cable.id, Host::Bow(shooter.bow), DAYS)?;
            }
        }
        let d_loop = scene.d_loop_on(shooter, &string, DAYS)?;
        let counts = Counts {
            string: starting.into(),
            measured: if starting > 0 { MEASURED_AT.len() } else { 0 },
            ..Counts::default()
        };
        let mut season = Self { scene, shooter, number, string, serving, d_loop, counts };
        season.work(season.string.id, UpkeepTask::NockingPointSet, DAYS)?;
        Ok(season)
    }

    /// Tells the year up to yesterday.
    pub(super) fn shoot(mut self) -> anyhow::Result<()> {
        for day in (1..DAYS).rev() {
            self.a_day_passes();
            let away = self.shooter.archer.away.iter();
            if away.copied().any(|(from, until)| (until..=from).contains(&day)) {
                continue;
            }
            let chance = scatter(day, self.number);
            if chance % 7 < self.shooter.archer.per_week {
                self.look_after_the_bow(day)?;
                self.practise(day, chance)?;
            }
        }
        Ok(())
    }

    fn a_day_passes(&mut self) {
        let counts = &mut self.counts;
        for (_, days) in [&mut counts.waxed, &mut counts.inspected, &mut counts.set] {
            *days += 1;
        }
    }

    /// Does what the archer thinks is due, before they shoot.
    fn look_after_the_bow(&mut self, day: usize) -> anyhow::Result<()> {
        let percent = self.shooter.archer.care.percent();
        let due = |(shots, days): (i64, i64), per_shots: i64, per_days: i64| {
            shots * 100 >= per_shots * percent || days * 100 >= per_days * percent
        };
        if self.counts.string * 100 >= 15_000 * percent {
            self.change_the_string(day)?;
        }
        if self.counts.serving * 100 >= 3_000 * percent {
            self.re_serve(day)?;
        }
        if due(self.counts.waxed, 500, 14) {
            self.work(self.string.id, UpkeepTask::Waxed, day)?;
            self.counts.waxed = (0, 0);
        }
        if due(self.counts.inspected, 1_000, 30) {
            self.work(self.serving.id, UpkeepTask::Inspected, day)?;
            self.counts.inspected = (0, 0);
        }
        if due(self.counts.set, 1_000, 30) {
            self.work(self.string.id, UpkeepTask::NockingPointSet, day)?;
            self.counts.set = (0, 0);
        }
        let next = MEASURED_AT.get(self.counts.measured);
        if next.is_some_and(|&at| self.counts.string >= at) {
            self.work(self.string.id, UpkeepTask::BraceHeightSet, day)?;
            let reached = MEASURED_AT.iter().filter(|&&at| at <= self.counts.string);
            self.counts.measured = reached.count();
        }
        Ok(())
    }

    fn change_the_string(&mut self, day: usize) -> anyhow::Result<()> {
        let at = self.scene.at(day, time(16, 0, 0, 0));
        let reason = Name::parse("at its planned limit, in good order")?;
        let riders = [Some(self.serving.clone()), self.d_loop.take()].into_iter().flatten();
        for part in riders.chain([self.string.clone()]) {
            let end = Retirement { at, end: End::ByPolicy, reason: reason.clone() };
            store::parts::retire::<anyhow::Error>(self.scene.tx, self.scene.club, part, end)?;
        }
        self.string = self.scene.new_part(self.shooter, PartKind::Bowstring, None, day)?;
        self.scene.fit(self.string.id, Host::Bow(self.shooter.bow), day)?;
        self.serving = self.scene.new_part(self.shooter, PartKind::CenterServing, None, day)?;
        self.scene.fit(self.serving.id, Host::Part(self.string.id), day)?;
        self.d_loop = self.scene.d_loop_on(self.shooter, &self.string, day)?;
        self.counts = Counts::default();
        self.work(self.string.id, UpkeepTask::NockingPointSet, day)
    }

    fn re_serve(&mut self, day: usize) -> anyhow::Result<()> {
        let at = self.scene.at(day, time(16, 0, 0, 0));
        let (id, by) = (fresh_id::<UpkeepId>(at), self.shooter.member);
        let work = Upkeep::new(id, self.serving.id, UpkeepTask::ReServed, at, by);
        let new = store::upkeep::re_serve::<anyhow::Error>(
            self.scene.tx,
            self.scene.club,
            &self.serving,
            &work,
        )?;
        self.serving = store::parts::get(self.scene.tx, self.scene.club, new)?;
        (self.counts.serving, self.counts.inspected, self.counts.set) = (0, (0, 0), (0, 0));
        self.work(self.string.id, UpkeepTask::NockingPointSet, day)
    }

    fn work(&mut self, part: PartId, task: UpkeepTask, day: usize) -> anyhow::Result<()> {
        let at = self.scene.at(day, time(16, 30, 0, 0));
        let work = Upkeep::new(fresh_id::<UpkeepId>(at), part, task, at, self.shooter.member);
        let part = store::parts::get(self.scene.tx, self.scene.club, part)?;
        Ok(store::upkeep::record(self.scene.tx, self.scene.club, &part, &work)?)
    }

    /// A practice of more or less the ordinary number of shots.
    fn practise(&mut self, day: usize, chance: u32) -> anyhow::Result<()> {
        let at = self.scene.at(day, time(17, 30, 0, 0));
        let (ordinary, swing) = (self.shooter.archer.per_practice, i64::from(chance / 7 % 64) - 32);
        let shots = ordinary + ordinary * swing / 128;
        let log = ShotLog {
            id: fresh_id::<ShotLogId>(at),
            bow_id: self.shooter.bow,
            time: LogTime { at, stated: at, date_only: false, skew_s: None },
            shots: Shots::new(shots)?,
            kind: if chance.is_multiple_of(11) { LogKind::Scoring } else { LogKind::Practice },
            note: Note::default(),
            entered_by: self.shooter.member,
            received_at: at,
        };
        store::ledger::append(self.scene.tx, self.scene.club, &log)?;
        let counts = &mut self.counts;
        counts.string += shots;
        counts.serving += shots;
        for (count, _) in [&mut counts.waxed, &mut counts.inspected, &mut counts.set] {
            *count += shots;
        }
        Ok(())
    }
}

impl Scene<'_, '_> {
    /// A part made for somebody's bow so many days ago.
    pub(super) fn new_part(
        &mut self,
        shooter: &Shooter,
        kind: PartKind,
        start: Option<Start>,
        days_ago: usize,
    ) -> anyhow::Result<Part> {
        let at = self.at(days_ago, time(10, 0, 0, 0));
        let compound = shooter.archer.division == Division::Compound;
        let (material, strands, cost) = match kind {
            PartKind::Bowstring | PartKind::Cable if compound => ("pre-stretched HMPE", 24, 38.0),
            PartKind::Bowstring if shooter.archer.weight_lbf > 30.0 => ("HMPE", 20, 17.5),
            PartKind::Bowstring => ("polyester", 14, 9.0),
            _ => ("braided nylon", 0, 1.2),
        };
        let name = match strands {
            0 => material.to_owned(),
            strands => format!("{strands} strands of {material}"),
        };
        let part = Part {
            id: fresh_id::<PartId>(at),
            kind,
            name: Name::parse(&name)?,
            material: Some(Name::parse(material)?),
            strands: (strands > 0).then_some(strands),
            made_on: Some(zone().date_of(at)),
            start,
            unit_cost: Some(domain::parts::Cost::from_amount(cost)?),
            retirement: None,
            created_at: at,
        };
        store::parts::add(self.tx, self.club, &part)?;
        Ok(part)
    }

    /// The D-loop that a compound's string has.
    fn d_loop_on(
        &mut self,
        shooter: &Shooter,
        string: &Part,
        days_ago: usize,
    ) -> anyhow::Result<Option<Part>> {
        if shooter.archer.division != Division::Compound {
            return Ok(None);
        }
        let d_loop = self.new_part(shooter, PartKind::DLoop, None, days_ago)?;
        self.fit(d_loop.id, Host::Part(string.id), days_ago)?;
        Ok(Some(d_loop))
    }

    /// Fits a part on the afternoon of a day.
    pub(super) fn fit(
        &mut self,
        part_id: PartId,
        host: Host,
        days_ago: usize,
    ) -> anyhow::Result<()> {
        let from = self.at(days_ago, time(16, 0, 0, 0));
        let id = fresh_id::<FittingId>(from);
        let fitting = Fitting { id, part_id, host, from, to: None, version: 1 };
        store::fittings::fit::<anyhow::Error>(self.tx, self.club, &fitting)
    }
}

/// A number that looks like chance and is the same every time (the finaliser of `MurmurHash3`,
/// written from memory).
fn scatter(day: usize, number: usize) -> u32 {
    let mut x = u32::try_from(day * 31 + number * 7_919).unwrap_or(0);
    x = (x ^ (x >> 16)).wrapping_mul(0x85eb_ca6b);
    x = (x ^ (x >> 13)).wrapping_mul(0xc2b2_ae35);
    x ^ (x >> 16)
}
