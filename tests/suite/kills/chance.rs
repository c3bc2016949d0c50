//! Numbers that look like chance and come again with the same seed.

use std::time::Duration;

use super::scene::setting;

/// `SplitMix64`: Steele, Lea, Flood, "Fast splittable pseudorandom number generators" (OOPSLA 2014);
/// the constants from memory. Any well-spread numbers would do here.
pub(super) struct Chance {
    seed: u64,
    state: u64,
}

impl Chance {
    /// From the seed of this run of the tests.
    pub(super) fn of_this_run() -> Self {
        let seed = setting("SEED", 1);
        Self { seed, state: seed }
    }

    /// What it began with.
    pub(super) const fn seed(&self) -> u64 {
        self.seed
    }

    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.state;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A time from the first on and before the second.
    pub(super) fn between(&mut self, from: Duration, to: Duration) -> Duration {
        let span = u64::try_from(to.saturating_sub(from).as_micros()).unwrap().max(1);
        from + Duration::from_micros(self.next() % span)
    }
}

#[test]
fn the_same_seed_gives_the_same_moments_and_they_are_spread() {
    let drawn = |seed| {
        let mut chance = Chance { seed, state: seed };
        (0..1000).map(|_| chance.between(Duration::ZERO, Duration::from_millis(100))).collect()
    };
    let (one, again, other): (Vec<Duration>, Vec<_>, Vec<_>) = (drawn(1), drawn(1), drawn(2));
    assert_eq!(one, again);
    assert_ne!(one, other);
    for tenth in 0..10 {
        let (from, to) =
            (Duration::from_millis(tenth * 10), Duration::from_millis(tenth * 10 + 10));
        let within = one.iter().filter(|&&at| from <= at && at < to).count();
        assert!((60..140).contains(&within), "{within} of 1000 in tenth {tenth}");
    }
}
