//! How often somebody who has proved nothing may try. What is counted is the address that a request
//! comes from, as the connection has it: no header is believed. It knows no route and no account.
//!
//! | what | limit | why |
//! |---|---|---|
//! | signing in, by account and address | 10 a minute | a person who mistypes needs a few; a list of passwords needs millions |
//! | signing in, by address | 60 a minute | a club behind one address comes in together after training; each try costs 19 MiB and a core |
//! | asking for a reset, by account | 3 an hour | each is a mail to somebody who may not have asked; all three links work for two hours, so the true owner has one |
//! | asking for a reset, by address | 20 an hour | one address has no business with many accounts |
//! | refreshing, links, setting up, by address | 60 a minute each | a seal cannot be guessed; this bounds the work of refusing |
//!
//! No limit on signing in is by account alone: whoever tries from elsewhere does not keep the owner out.

use std::{
    future::{Ready, ready},
    hash::Hash,
    net::IpAddr,
    num::NonZeroU32,
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicU32, Ordering},
    },
    time::Duration,
};

use actix_web::{FromRequest, HttpRequest, dev::Payload};
use domain::{members::EmailAddress, time};
use governor::{
    Quota, RateLimiter, clock::Clock, middleware::NoOpMiddleware, state::keyed::DashMapStateStore,
};
use jiff::{SignedDuration, Timestamp};

use crate::error::ApiError;

const SIGN_INS_A_MINUTE: NonZeroU32 = times(10);
const RESETS_AN_HOUR: NonZeroU32 = times(3);
const RESETS_BY_NET_AN_HOUR: NonZeroU32 = times(20);
const BY_NET_A_MINUTE: NonZeroU32 = times(60);

/// After so many tries, whoever has not come lately is forgotten.
const TIDIED_AFTER: u32 = 1_024;

const fn times(times: u32) -> NonZeroU32 {
    match NonZeroU32::new(times) {
        Some(times) => times,
        None => NonZeroU32::MIN,
    }
}

/// Where a request comes from: an IPv4 address, or the half of an IPv6 address that a provider gives out
/// whole (RFC 6177), since whoever has it can choose the other half.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Net {
    V4([u8; 4]),
    V6([u8; 8]),
}

impl Net {
    fn of(address: IpAddr) -> Self {
        match address.to_canonical() {
            IpAddr::V4(address) => Self::V4(address.octets()),
            IpAddr::V6(address) => {
                Self::V6(address.octets().first_chunk().copied().unwrap_or_default())
            }
        }
    }
}

impl FromRequest for Net {
    type Error = ApiError;
    type Future = Ready<Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        // A connection without an address is none that a stranger could have made.
        let peer = request.peer_addr().map(|peer| Self::of(peer.ip()));
        ready(Ok(peer.unwrap_or(Self::V4([0; 4]))))
    }
}

/// What an address on the net is limited in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Try {
    Password,
    SignIn,
    Refresh,
    Link,
    SetUp,
}

/// An account as it was typed, whether there is one or not; what cannot be an address is one account.
type Account = Option<EmailAddress>;
type Limit<K> =
    RateLimiter<K, DashMapStateStore<K>, Elapsed, NoOpMiddleware<<Elapsed as Clock>::Instant>>;

/// Counts tries.
pub(crate) struct Throttle {
    clock: Elapsed,
    by_net: Limit<(Try, Net)>,
    sign_ins: Limit<(Account, Net)>,
    resets: Limit<Account>,
    resets_by_net: Limit<Net>,
    tries: AtomicU32,
}

impl Throttle {
    pub(crate) fn new(clock: Arc<dyn time::Clock>) -> Self {
        let clock = Elapsed::since_now(clock);
        let (minute, hour) = (Quota::per_minute, Quota::per_hour);
        Self {
            by_net: Limit::dashmap_with_clock(minute(BY_NET_A_MINUTE), clock.clone()),
            sign_ins: Limit::dashmap_with_clock(minute(SIGN_INS_A_MINUTE), clock.clone()),
            resets: Limit::dashmap_with_clock(hour(RESETS_AN_HOUR), clock.clone()),
            resets_by_net: Limit::dashmap_with_clock(hour(RESETS_BY_NET_AN_HOUR), clock.clone()),
            tries: AtomicU32::new(0),
            clock,
        }
    }

    pub(crate) fn sign_in(&self, from: Net, account: Account) -> Result<(), ApiError> {
        self.take(&self.by_net, &(Try::SignIn, from))?;
        self.take(&self.sign_ins, &(account, from))
    }

    pub(crate) fn ask_reset(&self, from: Net, account: &Account) -> Result<(), ApiError> {
        self.take(&self.resets_by_net, &from)?;
        self.take(&self.resets, account)
    }

    pub(crate) fn refresh(&self, from: Net) -> Result<(), ApiError> {
        self.take(&self.by_net, &(Try::Refresh, from))
    }

    /// For showing a link that was mailed.
    pub(crate) fn link(&self, from: Net) -> Result<(), ApiError> {
        self.take(&self.by_net, &(Try::Link, from))
    }

    /// For guessing at one's own password.
    pub(crate) fn password(&self, from: Net) -> Result<(), ApiError> {
        self.take(&self.by_net, &(Try::Password, from))
    }

    pub(crate) fn set_up(&self, from: Net) -> Result<(), ApiError> {
        self.take(&self.by_net, &(Try::SetUp, from))
    }

    fn take<K: Hash + Eq + Clone>(&self, limit: &Limit<K>, key: &K) -> Result<(), ApiError> {
        if self.tries.fetch_add(1, Ordering::Relaxed) % TIDIED_AFTER == TIDIED_AFTER - 1 {
            self.tidy_up();
        }
        limit.check_key(key).map_err(|refused| {
            let wait = refused.wait_time_from(self.clock.now());
            // A whole second at least, and rounded up: who waits so long is let in.
            ApiError::TooOften(wait.as_secs() + u64::from(wait.subsec_nanos() > 0))
        })
    }

    /// Forgets whoever has all their tries again, so that strangers cannot fill the memory.
    fn tidy_up(&self) {
        self.by_net.retain_recent();
        self.sign_ins.retain_recent();
        self.resets.retain_recent();
        self.resets_by_net.retain_recent();
    }
}

/// The time that went by on a clock that may be set back: then nothing went by.
#[derive(Clone)]
struct Elapsed {
    clock: Arc<dyn time::Clock>,
    seen: Arc<Mutex<(Timestamp, Duration)>>,
}

impl Elapsed {
    fn since_now(clock: Arc<dyn time::Clock>) -> Self {
        let seen = Arc::new(Mutex::new((clock.now(), Duration::ZERO)));
        Self { clock, seen }
    }
}

impl Clock for Elapsed {
    type Instant = Duration;

    fn now(&self) -> Duration {
        let now = self.clock.now();
        let mut seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        let passed = now.duration_since(seen.0).max(SignedDuration::ZERO).unsigned_abs();
        *seen = (now, seen.1.saturating_add(passed));
        seen.1
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicI64;

    use super::*;

    struct Set(AtomicI64);

    impl time::Clock for Set {
        fn now(&self) -> Timestamp {
            Timestamp::from_second(self.0.load(Ordering::Relaxed)).unwrap()
        }
    }

    fn throttle() -> (Throttle, Arc<Set>) {
        let clock = Arc::new(Set(AtomicI64::new(1_800_000_000)));
        (Throttle::new(clock.clone()), clock)
    }

    fn net(address: &str) -> Net {
        Net::of(address.parse().unwrap())
    }

    fn account(name: &str) -> Account {
        EmailAddress::parse(&format!("{name}@club.example")).ok()
    }

    /// How many of a hundred tries pass, and how long the next is told to wait.
    fn passed(attempt: impl Fn() -> Result<(), ApiError>) -> (usize, u64) {
        let passed = (0..100).take_while(|_| attempt().is_ok()).count();
        match attempt() {
            Err(ApiError::TooOften(wait)) => (passed, wait),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn each_limit_is_that_of_the_table_and_says_how_long_to_wait() {
        let (throttle, clock) = throttle();
        let here = net("192.0.2.1");
        assert_eq!(passed(|| throttle.sign_in(here, account("a"))), (10, 6));
        assert_eq!(passed(|| throttle.refresh(here)), (60, 1));
        assert_eq!(passed(|| throttle.link(here)), (60, 1));
        assert_eq!(passed(|| throttle.set_up(here)), (60, 1));
        assert_eq!(passed(|| throttle.ask_reset(here, &account("a"))), (3, 20 * 60));
        clock.0.fetch_add(5, Ordering::Relaxed);
        assert_eq!(passed(|| throttle.sign_in(here, account("a"))), (0, 1));
        clock.0.fetch_add(1, Ordering::Relaxed);
        assert_eq!(passed(|| throttle.sign_in(here, account("a"))), (1, 6));
        assert_eq!(passed(|| throttle.ask_reset(here, &None)), (3, 20 * 60));
    }

    #[test]
    fn an_address_is_limited_over_all_accounts() {
        let (throttle, _clock) = throttle();
        let here = net("192.0.2.1");
        let nth = |n: usize| throttle.sign_in(here, account(&format!("n{n}")));
        assert_eq!((0..100).filter(|n| nth(*n).is_ok()).count(), 60);
        let nth = |n: usize| throttle.ask_reset(here, &account(&format!("n{n}")));
        assert_eq!((0..100).filter(|n| nth(*n).is_ok()).count(), 20);
    }

    #[test]
    fn whoever_tries_from_elsewhere_does_not_keep_the_owner_out() {
        let (throttle, _clock) = throttle();
        for other in 0..=255_u8 {
            let from = Net::V4([198, 51, 100, other]);
            assert!((0..20).any(|_| throttle.sign_in(from, account("a")).is_err()));
        }
        throttle.sign_in(net("192.0.2.1"), account("a")).unwrap();
    }

    #[test]
    fn the_half_that_a_client_chooses_itself_does_not_count() {
        assert_eq!(net("2001:db8:1:2::1"), net("2001:db8:1:2:ffff::2"));
        assert_ne!(net("2001:db8:1:2::1"), net("2001:db8:1:3::1"));
        assert_eq!(net("::ffff:192.0.2.1"), net("192.0.2.1"));
    }

    #[test]
    fn a_clock_that_is_set_back_locks_nobody_out() {
        let (throttle, clock) = throttle();
        let here = net("192.0.2.1");
        assert_eq!(passed(|| throttle.sign_in(here, account("a"))), (10, 6));
        clock.0.fetch_sub(3_600, Ordering::Relaxed);
        assert_eq!(passed(|| throttle.sign_in(here, account("a"))), (0, 6));
        clock.0.fetch_add(60, Ordering::Relaxed);
        assert_eq!(passed(|| throttle.sign_in(here, account("a"))), (10, 6));
    }

    #[test]
    fn who_has_not_come_lately_is_forgotten() {
        let (throttle, clock) = throttle();
        for n in 0..3_000_u32 {
            let [_, a, b, c] = n.to_be_bytes();
            throttle.sign_in(Net::V4([10, a, b, c]), account("a")).unwrap();
            clock.0.fetch_add(1, Ordering::Relaxed);
        }
        // Those of the last sixty seconds, and all since the last tidying up.
        let kept = throttle.sign_ins.len() + throttle.by_net.len();
        assert!(kept < 2 * (1_024 + 60), "{kept}");
    }
}
