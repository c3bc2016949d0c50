//! The two clocks: the machine's, and one that stands where it was set.

use std::sync::atomic::{AtomicI64, Ordering};

use domain::time::Clock;
use jiff::Timestamp;

/// The machine's clock.
pub(crate) struct SystemClock;

impl Clock for SystemClock {
    #[expect(clippy::disallowed_methods, reason = "the one place that asks the machine")]
    fn now(&self) -> Timestamp {
        Timestamp::now()
    }
}

/// A clock that stands still until it is set.
pub(crate) struct SetClock(AtomicI64);

impl SetClock {
    pub(crate) fn at(moment: Timestamp) -> Self {
        Self(AtomicI64::new(moment.as_microsecond()))
    }

    pub(crate) fn set(&self, moment: Timestamp) {
        self.0.store(moment.as_microsecond(), Ordering::Relaxed);
    }
}

impl Clock for SetClock {
    fn now(&self) -> Timestamp {
        Timestamp::from_microsecond(self.0.load(Ordering::Relaxed)).unwrap_or_default()
    }
}
