//! A random season of two bows and six parts, and what a plain count over its raw lists makes of
//! it. Nothing here knows a database, and nothing here sums as the store does: each log looks for
//! itself what it counts for.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::Arc,
};

use domain::{
    bows::Bow,
    fittings::{Fitting, Host},
    ids::{BowId, FittingId, PartId},
    ledger::{self, Clock, Reading, ShotLog},
    parts::{Part, PartKind, Start},
    rules::{PartRecord, Rule, Seen, Under, assess},
    time::Zone,
    upkeep::{Upkeep, UpkeepTask},
};
use jiff::Timestamp;
use proptest::{collection::vec, option, prelude::*};
use store::due::Judged;

use crate::invented::{self, at_hour, name, shot_log, stay, work};

/// The kinds of the six parts: three that go on a bow, and three that go on one of those.
const KINDS: [PartKind; 6] = [
    PartKind::Bowstring,
    PartKind::Bowstring,
    PartKind::Cable,
    PartKind::CenterServing,
    PartKind::CenterServing,
    PartKind::NockingPoint,
];
const TASKS: [UpkeepTask; 4] = [
    UpkeepTask::Waxed,
    UpkeepTask::Inspected,
    UpkeepTask::NockingPointSet,
    UpkeepTask::BraceHeightSet,
];

/// Everything that happened, in no order.
#[derive(Debug, Clone)]
pub(crate) struct Season {
    pub(crate) bows: Vec<Bow>,
    pub(crate) parts: Vec<Part>,
    pub(crate) stays: Vec<Fitting>,
    pub(crate) works: Vec<Upkeep>,
    pub(crate) logs: Vec<ShotLog>,
    /// By which to bring it into some order.
    pub(crate) chance: Vec<u32>,
}

/// Something that happened.
#[derive(Debug, Clone)]
pub(crate) enum Happening {
    Fitted(Fitting),
    TakenOff(FittingId, Timestamp),
    Maintained(Part, Upkeep),
    Shot(ShotLog),
}

/// Seasons of up to so many logs. Times are whole hours of two days, so that logs often fall on
/// the very instant at which a fitting begins or ends, or at which a clock is set back.
pub(crate) fn seasons(logs: impl Into<proptest::collection::SizeRange>) -> BoxedStrategy<Season> {
    let hour = || 0..48_i64;
    let starts = vec(option::of((0..6_000_u32, hour())), KINDS.len());
    let on_bow = (0..3_usize, 0..2_usize, hour(), option::of(1..20_i64));
    let on_string = (3..6_usize, 0..3_usize, hour(), option::of(1..20_i64));
    let works = vec((0..KINDS.len(), 0..TASKS.len(), hour()), 0..8);
    let logs = vec((0..2_usize, hour(), 1..=2_000_i64), logs);
    let chance = vec(any::<u32>(), 64);
    (starts, vec(on_bow, 0..10), vec(on_string, 0..10), works, logs, chance)
        .prop_map(|(starts, on_bow, on_string, works, logs, chance)| {
            let nobody = invented::id();
            let bows = vec![invented::bow("blue"), invented::bow("red")];
            let parts: Vec<Part> = KINDS.iter().zip(starts).map(used_part).collect();
            let mut stays = Vec::new();
            for (part, bow, from, hours) in on_bow {
                fit_if_free(&mut stays, &parts, part, Host::Bow(bows[bow].id), (from, hours));
            }
            for (part, string, from, hours) in on_string {
                fit_if_free(&mut stays, &parts, part, Host::Part(parts[string].id), (from, hours));
            }
            let log = |(bow, hour, n): (usize, i64, i64)| {
                shot_log(nobody, bows[bow].id, at_hour(hour), n)
            };
            let logs = logs.into_iter().map(log).collect();
            let task = |(part, task, hour): (usize, usize, i64)| {
                work(nobody, parts[part].id, TASKS[task], at_hour(hour))
            };
            let works = works.into_iter().map(task).collect();
            Season { bows, parts, stays, works, logs, chance }
        })
        .boxed()
}

fn used_part((&kind, start): (&PartKind, Option<(u32, i64)>)) -> Part {
    let start = start.map(|(shots, hour)| Start { shots, at: at_hour(hour) });
    Part { start, ..invented::part(kind) }
}

/// Keeps a stay that contradicts none that is kept already.
pub(crate) fn fit_if_free(
    stays: &mut Vec<Fitting>,
    parts: &[Part],
    part: usize,
    host: Host,
    (from, hours): (i64, Option<i64>),
) {
    let kind_of = |id: PartId| parts.iter().find(|part| part.id == id).unwrap().kind;
    let new = stay(parts[part].id, host, at_hour(from), hours.map(|n| at_hour(from + n)));
    let ends = |stay: &Fitting| stay.to.unwrap_or(Timestamp::MAX);
    let clashes = |other: &Fitting| {
        let same_time = new.from < ends(other) && other.from < ends(&new);
        let (kind, other_kind) = (kind_of(new.part_id), kind_of(other.part_id));
        let same_place = host == other.host && kind == other_kind && kind != PartKind::Cable;
        same_time && (new.part_id == other.part_id || same_place)
    };
    if !stays.iter().any(clashes) {
        stays.push(new);
    }
}

/// The bow that a stay is on.
const fn bow_of(stay: &Fitting) -> Option<BowId> {
    match stay.host {
        Host::Bow(bow) => Some(bow),
        Host::Part(_) => None,
    }
}

impl Season {
    /// As it would be entered by somebody who enters everything when it happens.
    pub(crate) fn in_order(&self) -> Vec<Happening> {
        // At the same hour a part is taken off before the next one goes on.
        let mut all: Vec<((Timestamp, u8), Happening)> = Vec::new();
        for stay in &self.stays {
            all.push(((stay.from, 1), Happening::Fitted(Fitting { to: None, ..*stay })));
            all.extend(stay.to.map(|to| ((to, 0), Happening::TakenOff(stay.id, to))));
        }
        all.extend(self.logs.iter().map(|log| ((log.time.at, 2), Happening::Shot(log.clone()))));
        all.extend(self.maintained().map(|(at, work)| ((at, 3), work)));
        all.sort_by_key(|(when, _)| *when);
        all.into_iter().map(|(_, happening)| happening).collect()
    }

    /// In an order of chance, each log `times` times.
    pub(crate) fn shuffled(&self, times: usize) -> Vec<Happening> {
        let mut all: Vec<Happening> = self.stays.iter().copied().map(Happening::Fitted).collect();
        all.extend(self.maintained().map(|(_, work)| work));
        for _ in 0..times {
            all.extend(self.logs.iter().cloned().map(Happening::Shot));
        }
        for n in (1..all.len()).rev() {
            let chance =
                self.chance[n % self.chance.len()].rotate_left(u32::try_from(n % 32).unwrap());
            all.swap(n, chance as usize % (n + 1));
        }
        all
    }

    fn maintained(&self) -> impl Iterator<Item = (Timestamp, Happening)> {
        self.works.iter().map(|work| {
            let part = self.parts.iter().find(|part| part.id == work.part_id).unwrap();
            (work.at, Happening::Maintained(part.clone(), work.clone()))
        })
    }

    /// As it stood at a moment, to who knows all that happened until then.
    pub(crate) fn until(&self, at: Timestamp) -> Self {
        let mut until = self.clone();
        until.logs.retain(|log| log.time.at <= at);
        until.works.retain(|work| work.at <= at);
        until.stays.retain(|stay| stay.from <= at);
        // What a part came with is known from when it came.
        for start in until.parts.iter_mut().filter_map(|part| part.start.as_mut()) {
            start.shots = if start.at <= at { start.shots } else { 0 };
        }
        for stay in &mut until.stays {
            stay.to = stay.to.filter(|to| *to <= at);
        }
        until
    }

    /// What the clocks of a part must show, by spelling.
    pub(crate) fn readings(&self, part: &Part) -> Vec<Reading> {
        let mut clocks = part.kind.clocks().to_vec();
        clocks.sort_by_key(|clock| clock.as_str());
        clocks.into_iter().map(|clock| self.reading(part, clock)).collect()
    }

    fn reading(&self, part: &Part, clock: Clock) -> Reading {
        let mine = |work: &&Upkeep| work.part_id == part.id && clock == Clock::Since(work.task);
        let reset_at = self.works.iter().filter(mine).map(|work| work.at).max();
        let too_early =
            |at| reset_at.is_some_and(|r| at < r) || part.start.is_some_and(|s| at < s.at);
        let mut shots = 0;
        // What it came with was shot after the work, as far as anybody knows.
        if let Some(start) = part.start.filter(|s| reset_at.is_none_or(|r| r < s.at)) {
            shots += i64::from(start.shots);
        }
        for log in &self.logs {
            let at = log.time.at;
            if !too_early(at) && self.bow_over(part.id, at) == Some(log.bow_id) {
                shots += i64::from(log.shots.get());
            }
        }
        Reading { clock, shots, reset_at }
    }

    /// The same by the formula of the domain.
    pub(crate) fn count(&self, part: &Part, reset_at: Option<Timestamp>) -> i64 {
        let of = |part: PartId| -> Vec<Fitting> {
            self.stays.iter().filter(|stay| stay.part_id == part).copied().collect()
        };
        let hosts: BTreeMap<_, _> = self.parts.iter().map(|part| (part.id, of(part.id))).collect();
        let stretches = ledger::stretches(&of(part.id), &hosts);
        ledger::count(&stretches, part.start, reset_at, &self.logs)
    }

    /// The bow that a part was under at a moment.
    pub(crate) fn bow_over(&self, part: PartId, at: Timestamp) -> Option<BowId> {
        let covers = |stay: &&Fitting| {
            stay.part_id == part && stay.from <= at && stay.to.is_none_or(|to| at < to)
        };
        match self.stays.iter().find(covers)?.host {
            Host::Bow(bow) => Some(bow),
            Host::Part(host) => self.bow_over(host, at),
        }
    }

    /// When a part under a bow, or the serving on it, was last fitted.
    fn changed_at(&self, part: PartId, now: Timestamp) -> Option<Timestamp> {
        self.bow_over(part, now)?;
        let serving = |id: PartId| {
            self.parts.iter().any(|part| part.id == id && part.kind == PartKind::CenterServing)
        };
        let concerns = |stay: &&Fitting| {
            let on_it = stay.host == Host::Part(part) && serving(stay.part_id);
            let now_on = stay.from <= now && stay.to.is_none_or(|to| now < to);
            now_on && (stay.part_id == part || on_it)
        };
        self.stays.iter().filter(concerns).map(|stay| stay.from).max()
    }

    /// The bow that a part was under last: of every time that it, or what it rode on, was on a bow, the
    /// one that began last.
    fn last_bow(&self, part: PartId) -> Option<BowId> {
        let ends = |stay: &Fitting| stay.to.unwrap_or(Timestamp::MAX);
        let mut times: Vec<(Timestamp, BowId)> = Vec::new();
        for stay in self.stays.iter().filter(|stay| stay.part_id == part) {
            let Host::Part(host) = stay.host else {
                times.extend(bow_of(stay).map(|bow| (stay.from, bow)));
                continue;
            };
            for under in self.stays.iter().filter(|under| under.part_id == host) {
                let began = stay.from.max(under.from);
                let together = began < ends(stay).min(ends(under));
                times.extend(bow_of(under).filter(|_| together).map(|bow| (began, bow)));
            }
        }
        times.into_iter().max_by_key(|(began, _)| *began).map(|(_, bow)| bow)
    }

    /// What rules ask of that bow; nobody is in a squad.
    fn under(&self, part: PartId) -> Option<Under> {
        let last = self.last_bow(part)?;
        let bow = self.bows.iter().find(|bow| bow.id == last)?;
        Some(Under { bow: bow.id, division: bow.division, squads: BTreeSet::new() })
    }

    /// The due list that must come of it.
    pub(crate) fn due(&self, rules: &[Rule], zone: &Zone, now: Timestamp) -> Vec<Judged> {
        let mut due: Vec<Judged> = self
            .parts
            .iter()
            .map(|part| {
                let first =
                    self.stays.iter().filter(|stay| stay.part_id == part.id).map(|s| s.from);
                let used = part.start.filter(|start| start.shots > 0).map(|start| start.at);
                let record = PartRecord {
                    part: part.clone(),
                    readings: self.readings(part),
                    first_fitted_at: first.chain(used).min(),
                    changed_at: self.changed_at(part.id, now),
                    stop: None,
                    under: self.under(part.id),
                    seen: Seen::default(),
                };
                let assessment = assess(&record, rules, zone, zone.date_of(now));
                let over = self.bow_over(part.id, now);
                let bow = self.bows.iter().find(|bow| Some(bow.id) == over);
                let bow = bow.cloned().map(Arc::new);
                let last_bow = self.last_bow(part.id);
                Judged { record, assessment, bow, last_bow }
            })
            .collect();
        // No bow comes before blue, and blue before red.
        let place = |bow: &Option<Arc<Bow>>| {
            bow.as_ref().map_or(0, |bow| 1 + u8::from(bow.name != name("blue")))
        };
        due.sort_by_key(|j| (j.assessment.condition, place(&j.bow), j.record.part.id));
        due
    }
}
