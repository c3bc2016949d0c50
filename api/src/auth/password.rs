//! Passwords: argon2id (RFC 9106), at most two at once, and never faster for a stranger. It knows
//! nothing of who asks.

use std::sync::{Arc, LazyLock};

use argon2::{
    Argon2,
    password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash},
};
use tokio::sync::Semaphore;

use crate::error::ApiError;

/// Hashing takes 19 MiB and tens of milliseconds of a core: more at once would starve the rest.
const AT_ONCE: usize = 2;

/// How many requests may wait for that. Whoever comes after them would wait for seconds, and holds
/// a connection and a body meanwhile: they are told to come again instead.
const MOST_WAITING: usize = 32;

/// The least and the most characters of a password. There are no rules beyond that.
pub(crate) const LENGTH: std::ops::RangeInclusive<usize> = 8..=256;

/// Checks passwords without letting them take the machine.
#[derive(Clone)]
pub(crate) struct Passwords {
    /// A place for everybody who is being served or waits.
    places: Arc<Semaphore>,
    /// A place for everybody who is being served.
    hashing: Arc<Semaphore>,
}

/// A hash that no password has: checked when there is no such account, so that both take as long.
static NOBODY: LazyLock<Option<String>> = LazyLock::new(|| hash_password("no such account"));

/// Hashes a password with a salt of its own. None if the machine has no randomness.
#[must_use]
pub fn hash_password(password: &str) -> Option<String> {
    Argon2::default().hash_password(password.as_bytes()).ok().map(|hash| hash.to_string())
}

impl Passwords {
    pub(crate) fn new() -> Self {
        Self {
            places: Arc::new(Semaphore::new(AT_ONCE + MOST_WAITING)),
            hashing: Arc::new(Semaphore::new(AT_ONCE)),
        }
    }

    /// Hashes a password.
    pub(crate) async fn hash(&self, password: String) -> Result<String, ApiError> {
        let hash = self.run(move || hash_password(&password)).await?;
        hash.ok_or_else(|| ApiError::Internal("a password could not be hashed".to_owned()))
    }

    /// Whether the password is the one of that hash; with no hash, as slowly, that it is not.
    pub(crate) async fn matches(
        &self,
        password: String,
        hash: Option<String>,
    ) -> Result<bool, ApiError> {
        let check = move || {
            let known = hash.is_some();
            let Some(hash) = hash.or_else(|| NOBODY.clone()) else { return false };
            let Ok(hash) = PasswordHash::new(&hash) else { return false };
            Argon2::default().verify_password(password.as_bytes(), &hash).is_ok() && known
        };
        self.run(check).await
    }

    async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, ApiError> {
        let Ok(place) = Arc::clone(&self.places).try_acquire_owned() else {
            return Err(ApiError::Unavailable("too many wait for a password check".to_owned()));
        };
        let ended = |error: &dyn std::fmt::Display| ApiError::Internal(error.to_string());
        let permit = Arc::clone(&self.hashing).acquire_owned().await.map_err(|e| ended(&e))?;
        // Both go along, so that a request that is given up does not free its place early.
        let work = move || {
            let _held = (place, permit);
            work()
        };
        tokio::task::spawn_blocking(work).await.map_err(|e| ended(&e))
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use super::*;

    #[actix_web::test]
    async fn two_are_served_thirty_two_wait_and_the_next_is_told_to_come_again() {
        let passwords = Passwords::new();
        let (started, running) = mpsc::channel();
        let (mut releases, mut asked) = (Vec::new(), Vec::new());
        for _ in 0..AT_ONCE + MOST_WAITING {
            let (release, released) = mpsc::channel::<()>();
            releases.push(release);
            let (passwords, started) = (passwords.clone(), started.clone());
            asked.push(actix_web::rt::spawn(async move {
                let work = move || {
                    started.send(()).unwrap();
                    released.recv().unwrap_err();
                };
                passwords.run(work).await
            }));
        }
        while passwords.places.available_permits() > 0 {
            tokio::task::yield_now().await;
        }
        for refused in [passwords.run(|| ()).await, passwords.run(|| ()).await] {
            assert!(matches!(refused, Err(ApiError::Unavailable(_))), "{refused:?}");
        }
        // Letting go of the other ends lets them go on; then there is room again.
        drop(releases);
        for one in asked {
            one.await.unwrap().unwrap();
        }
        assert_eq!(running.try_iter().count(), AT_ONCE + MOST_WAITING);
        passwords.run(|| ()).await.unwrap();
    }

    #[actix_web::test]
    async fn a_password_matches_its_own_hash_and_no_other() {
        let passwords = Passwords::new();
        let hash = passwords.hash("nine feathers".to_owned()).await.unwrap();
        for (password, hash, expected) in [
            ("nine feathers", Some(hash.clone()), true),
            ("ten feathers", Some(hash), false),
            ("no such account", None, false),
        ] {
            let matches = passwords.matches(password.to_owned(), hash).await.unwrap();
            assert_eq!(matches, expected, "{password}");
        }
    }
}
