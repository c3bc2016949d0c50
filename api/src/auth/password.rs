//! Passwords: argon2id (RFC 9106), at most two at once, and never faster for a stranger.

use std::sync::{Arc, LazyLock};

use argon2::{
    Argon2,
    password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash},
};
use tokio::sync::Semaphore;

/// Hashing takes 19 MiB and tens of milliseconds of a core: more at once would starve the rest.
const AT_ONCE: usize = 2;

/// The least and the most characters of a password. There are no rules beyond that.
pub(crate) const LENGTH: std::ops::RangeInclusive<usize> = 8..=256;

/// Checks passwords without letting them take the machine.
#[derive(Clone)]
pub(crate) struct Passwords(Arc<Semaphore>);

/// A hash that no password has: checked when there is no such account, so that both take as long.
static NOBODY: LazyLock<Option<String>> = LazyLock::new(|| hash_password("no such account"));

/// Hashes a password with a salt of its own. None if the machine has no randomness.
#[must_use]
pub fn hash_password(password: &str) -> Option<String> {
    Argon2::default().hash_password(password.as_bytes()).ok().map(|hash| hash.to_string())
}

impl Passwords {
    pub(crate) fn new() -> Self {
        Self(Arc::new(Semaphore::new(AT_ONCE)))
    }

    /// Hashes a password.
    pub(crate) async fn hash(&self, password: String) -> Option<String> {
        self.run(move || hash_password(&password)).await?
    }

    /// Whether the password is the one of that hash; with no hash, as slowly, that it is not.
    pub(crate) async fn matches(&self, password: String, hash: Option<String>) -> bool {
        let check = move || {
            let known = hash.is_some();
            let Some(hash) = hash.or_else(|| NOBODY.clone()) else { return false };
            let Ok(hash) = PasswordHash::new(&hash) else { return false };
            Argon2::default().verify_password(password.as_bytes(), &hash).is_ok() && known
        };
        self.run(check).await.unwrap_or(false)
    }

    async fn run<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Option<T> {
        let permit = Arc::clone(&self.0).acquire_owned().await.ok()?;
        // The permit goes along, so that a request that is given up does not free its place early.
        let work = move || {
            let _permit = permit;
            work()
        };
        tokio::task::spawn_blocking(work).await.ok()
    }
}
