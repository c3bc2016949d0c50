//! A clock that stands until a test moves it.

use std::sync::atomic::{AtomicI64, Ordering};

use domain::time::Clock;
use jiff::{SignedDuration, Timestamp};

pub(crate) struct SetClock(AtomicI64);

impl SetClock {
    pub(crate) fn at(moment: Timestamp) -> Self {
        Self(AtomicI64::new(moment.as_microsecond()))
    }

    pub(crate) fn advance(&self, by: SignedDuration) {
        self.set(self.now() + by);
    }

    pub(crate) fn set(&self, moment: Timestamp) {
        self.0.store(moment.as_microsecond(), Ordering::SeqCst);
    }
}

impl Clock for SetClock {
    fn now(&self) -> Timestamp {
        Timestamp::from_microsecond(self.0.load(Ordering::SeqCst)).unwrap()
    }
}
