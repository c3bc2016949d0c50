//! The protocol of the outbox, checked in every order in which things can happen: two workers, crashes
//! anywhere, workers that stand still for longer than their lease, and a relay whose answers get lost.
//!
//! The model is in `model.rs`. What each of its actions stands for is written beside it; whoever changes
//! `store/src/outbox.rs` or the job `deliver_mail` changes it too, and `walks.rs` tells when it
//! is not the former any more. Time is left out: a mail that waits for its time is ready at once, and a
//! lease ends at any moment. So an order that the clock forbids is checked as well.
#![cfg(test)]

mod model;
mod paths;
mod walks;

use std::time::Instant;

use model::{Action, Flaw, Outbox, World, ended};
use stateright::{Checker, HasDiscoveries, Model, Property};

const TAKEN: &str = "what is sent was taken by the relay";
const FENCED: &str = "a worker that lost its lease changes nothing";
const COPIES: &str =
    "no more copies than one, and one for each attempt that was cut off or in doubt";
const HELD: &str = "no two workers hold a mail under leases that run";
const DOUBT: &str = "a mail in doubt is tried once more, and then settled";
const TRIES: &str = "no more attempts than tries and faults";
const ENDS: &str = "every mail comes to an end";

impl Model for Outbox {
    type State = World;
    type Action = Action;

    fn init_states(&self) -> Vec<World> {
        vec![self.beginning().whichever()]
    }

    fn actions(&self, world: &World, actions: &mut Vec<Action>) {
        actions.extend(self.possible(world));
    }

    fn next_state(&self, world: &World, action: Action) -> Option<World> {
        self.after(*world, action).map(World::whichever)
    }

    fn properties(&self) -> Vec<Property<Self>> {
        vec![
            Property::always(TAKEN, |_: &Self, world: &World| {
                world.rows.iter().all(|row| row.state.as_str() != "sent" || row.copies > 0)
            }),
            Property::always(FENCED, |_: &Self, world: &World| !world.stale_changed),
            Property::always(COPIES, |_: &Self, world: &World| {
                world.rows.iter().all(|row| u32::from(row.copies) <= 1 + row.excused.count_ones())
            }),
            Property::always(HELD, |_: &Self, world: &World| {
                (0..world.rows.len()).all(|mail| world.holders(mail) <= 1)
            }),
            Property::always(DOUBT, |_: &Self, world: &World| !world.doubt_again),
            Property::always(TRIES, |model: &Self, world: &World| {
                world.rows.iter().all(|row| row.attempt <= model.most_attempts())
            }),
            Property::eventually(ENDS, |_: &Self, world: &World| {
                world.rows.iter().all(|row| ended(row.state))
            }),
            Property::sometimes("a mail comes twice", |_: &Self, world: &World| {
                world.rows.iter().any(|row| row.copies == 2)
            }),
            Property::sometimes("a stale worker is refused", |_: &Self, world: &World| {
                world.stale_refused
            }),
            Property::sometimes(
                "a mail is given up, although the relay has it",
                |_: &Self, world: &World| {
                    world.rows.iter().any(|row| row.state.as_str() == "dead" && row.copies > 0)
                },
            ),
            Property::sometimes(
                "a mail is sent in spite of a crash and a pause",
                |_: &Self, world: &World| {
                    let sent = world.rows.iter().any(|row| row.state.as_str() == "sent");
                    sent && world.crashes > 0 && world.pauses > 0
                },
            ),
        ]
    }

    /// Where a flaw lets attempts go on without end, they are followed a little beyond the bound.
    fn within_boundary(&self, world: &World) -> bool {
        world.rows.iter().all(|row| row.attempt <= self.most_attempts() + 1)
    }
}

impl Outbox {
    /// After the last try comes one that may be in doubt and one more, and another after each fault.
    const fn most_attempts(&self) -> u8 {
        self.tries + 2 + self.crashes + self.pauses
    }
}

/// One mail and more of everything else; two mails, which a worker has in hand at once.
const RIGHT: [Outbox; 2] = [
    Outbox { mails: 1, tries: 3, crashes: 2, pauses: 2, flaw: Flaw::None },
    Outbox { mails: 2, tries: 1, crashes: 1, pauses: 1, flaw: Flaw::None },
];

#[test]
fn the_protocol_keeps_its_promises_in_every_order() {
    for model in RIGHT {
        let began = Instant::now();
        let checked = model.checker().threads(2).spawn_bfs().join();
        checked.assert_properties();
        eprintln!(
            "{model:?}: {} states, {} of them different, paths of up to {} steps, {:?}",
            checked.state_count(),
            checked.unique_state_count(),
            checked.max_depth(),
            began.elapsed()
        );
        assert!(checked.is_done(), "{model:?}");
    }
}

#[test]
fn every_path_ends_and_ends_well() {
    for model in RIGHT {
        let ends =
            paths::ends(&model).unwrap_or_else(|world| panic!("{model:?} goes round {world:?}"));
        assert!(!ends.is_empty());
        for world in ends {
            assert!(
                world.rows.iter().all(|row| ended(row.state)),
                "{model:?} is stuck in {world:?}"
            );
        }
    }
}

#[test]
fn each_way_to_get_it_wrong_is_found() {
    for (flaw, broken) in [
        (Flaw::FinishesAnyAttempt, FENCED),
        (Flaw::ClaimsHeldMail, HELD),
        (Flaw::TakesWhatItReadBefore, HELD),
        (Flaw::NoLease, ENDS),
        (Flaw::BelievesSilence, TAKEN),
        (Flaw::NeverSettlesDoubt, DOUBT),
    ] {
        let model = Outbox { mails: 1, tries: 3, crashes: 1, pauses: 1, flaw };
        let found = HasDiscoveries::AnyOf([broken].into());
        let checked = model.checker().finish_when(found).spawn_bfs().join();
        let path = checked.assert_any_discovery(broken);
        eprintln!(
            "{flaw:?} breaks \"{broken}\", for instance in {} steps",
            path.into_actions().len()
        );
    }
    // That the protocol as it is breaks none of them at this size is part of the first test's first model.
}
