//! Rounds: in each, every floor and every server is measured for a while, one after the other, so
//! that whatever else the machine does meets all of them.

use std::{collections::BTreeMap, path::PathBuf, time::Duration};

use anyhow::ensure;
use tokio::runtime::Runtime;

use crate::{
    bare::{self, Bare, Lengths},
    client::{Load, Script, load},
    subject::{Asks, Subject},
};

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Asked {
    Log,
    Due,
}

/// Who answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Who {
    Bare,
    /// The server of that place in the list.
    Server(usize),
}

/// What is measured once in every round.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Slot {
    pub(crate) asked: Asked,
    pub(crate) connections: usize,
    pub(crate) who: Who,
}

/// One round's measurement of a slot.
pub(crate) struct Sample {
    pub(crate) load: Load,
    /// What the disk did just before, where the answers wait for it.
    pub(crate) raw_per_s: Option<f64>,
}

/// Every measurement, in the order of the rounds.
pub(crate) type Samples = BTreeMap<Slot, Vec<Sample>>;

/// How it is measured.
pub(crate) struct Plan {
    pub(crate) rounds: u32,
    pub(crate) lasting: Duration,
    pub(crate) connections: Vec<usize>,
    /// The folder of the database.
    pub(crate) folder: PathBuf,
}

/// How long each question is asked before a round, to warm up and to learn how long answers are.
const WARM_UP: Duration = Duration::from_millis(200);

/// Measures all rounds.
pub(crate) fn measure(
    runtime: &Runtime,
    plan: &Plan,
    subjects: &mut [Subject],
) -> anyhow::Result<Samples> {
    let mut samples = Samples::new();
    for _ in 0..plan.rounds {
        let mut lengths = Lengths { log: 0, due: 0 };
        let mut asks = Vec::new();
        for subject in subjects.iter_mut() {
            let ask = subject.asks(subject.address)?;
            lengths.log = put(subject, &ask, Asked::Log, 1, WARM_UP)?.bytes;
            lengths.due = put(subject, &ask, Asked::Due, 1, WARM_UP)?.bytes;
            asks.push(ask);
        }
        let bare = Bare::start(runtime, lengths)?;
        round(plan, subjects, &asks, &bare, &mut samples)?;
        bare.stop(runtime);
    }
    Ok(samples)
}

fn round(
    plan: &Plan,
    subjects: &mut [Subject],
    asks: &[Asks],
    bare: &Bare,
    samples: &mut Samples,
) -> anyhow::Result<()> {
    for &connections in &plan.connections {
        for asked in [Asked::Log, Asked::Due] {
            let mut keep = |who, load, raw_per_s| {
                let slot = Slot { asked, connections, who };
                samples.entry(slot).or_default().push(Sample { load, raw_per_s });
            };
            if let Some(ask) = asks.first() {
                let script = script(ask, asked);
                keep(Who::Bare, checked(bare.address, connections, plan.lasting, script)?, None);
            }
            for (place, (subject, ask)) in subjects.iter_mut().zip(asks).enumerate() {
                let raw = match asked {
                    Asked::Log => Some(bare::fdatasyncs_per_s(&plan.folder, plan.lasting / 2)?),
                    Asked::Due => None,
                };
                let load = put(subject, ask, asked, connections, plan.lasting)?;
                keep(Who::Server(place), load, raw);
            }
        }
    }
    Ok(())
}

fn script(ask: &Asks, asked: Asked) -> &dyn Script {
    match asked {
        Asked::Log => &ask.log,
        Asked::Due => &ask.due,
    }
}

/// Loads a server with a question, and keeps count of what it took.
fn put(
    subject: &mut Subject,
    ask: &Asks,
    asked: Asked,
    connections: usize,
    lasting: Duration,
) -> anyhow::Result<Load> {
    let load = checked(subject.address, connections, lasting, script(ask, asked))?;
    if asked == Asked::Log {
        subject.logged += load.answers;
    }
    Ok(load)
}

/// Loads a server; one refusal makes the whole run void.
pub(crate) fn checked(
    address: std::net::SocketAddr,
    connections: usize,
    lasting: Duration,
    script: &dyn Script,
) -> anyhow::Result<Load> {
    let load = load(address, connections, lasting, script)?;
    ensure!(
        load.refused == 0,
        "the run is void: {} of {} requests were refused, the first with {}",
        load.refused,
        load.refused + load.answers,
        load.first_refusal.unwrap_or_default()
    );
    Ok(load)
}
