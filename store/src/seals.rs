//! Seals: what the server hands out, takes back later, and nobody else can make. A link in a mail, a
//! refresh token: each is its content with a code of authentication (HMAC, RFC 2104, with SHA-256), so
//! nothing secret has to be kept. It knows no row and no purpose; what stands in a seal is not hidden.

use std::fmt;

use aws_lc_rs::{constant_time, hmac};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};

/// How much of the code goes into a seal: 128 bits, the least that NIST SP 800-107 (from memory) lets
/// stand without a further reason.
const CODE_BYTES: usize = 16;
/// No seal of ours is longer; what is, need not be looked at.
const LONGEST: usize = 512;

/// Makes and checks seals.
#[derive(Clone)]
pub struct Seals {
    current: hmac::Key,
    previous: Option<hmac::Key>,
}

impl fmt::Debug for Seals {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("seals")
    }
}

impl Seals {
    /// Seals by a key. Those of the previous one are still taken.
    #[must_use]
    pub fn new(current: [u8; 32], previous: Option<[u8; 32]>) -> Self {
        let key = |secret: [u8; 32]| hmac::Key::new(hmac::HMAC_SHA256, &secret);
        Self { current: key(current), previous: previous.map(key) }
    }

    /// The content, sealed for one purpose, as text that can stand in an address.
    #[must_use]
    pub fn seal(&self, purpose: &str, content: &[u8]) -> String {
        let code = code(&self.current, purpose, content);
        let sealed: Vec<u8> =
            content.iter().chain(code.as_ref().iter().take(CODE_BYTES)).copied().collect();
        URL_SAFE_NO_PAD.encode(sealed)
    }

    /// The content of a seal, if we made it for this purpose. How long it takes does not tell how much
    /// of a forged one is right.
    #[must_use]
    pub fn open(&self, purpose: &str, sealed: &str) -> Option<Vec<u8>> {
        let bytes = Some(sealed).filter(|text| text.len() <= LONGEST)?;
        let bytes = URL_SAFE_NO_PAD.decode(bytes).ok()?;
        let (content, shown) = bytes.split_last_chunk::<CODE_BYTES>()?;
        let made_by = |key: &hmac::Key| {
            let right = code(key, purpose, content);
            let right = right.as_ref().first_chunk::<CODE_BYTES>();
            right.is_some_and(|right| constant_time::verify_slices_are_equal(right, shown).is_ok())
        };
        let ours = made_by(&self.current) || self.previous.as_ref().is_some_and(made_by);
        ours.then(|| content.to_vec())
    }
}

/// The purpose goes in with its length, so that no purpose and content run together as another two do.
fn code(key: &hmac::Key, purpose: &str, content: &[u8]) -> hmac::Tag {
    let mut mac = hmac::Context::with_key(key);
    mac.update(&(purpose.len() as u64).to_be_bytes());
    mac.update(purpose.as_bytes());
    mac.update(content);
    mac.sign()
}

#[cfg(test)]
mod tests {
    use super::*;

    const OLD: [u8; 32] = [1; 32];
    const NEW: [u8; 32] = [2; 32];

    #[test]
    fn a_seal_opens_to_what_went_in() {
        let seals = Seals::new(NEW, None);
        for content in [&b""[..], b"a", &[0; 48], &[255; 36]] {
            let sealed = seals.seal("reset", content);
            assert_eq!(seals.open("reset", &sealed).as_deref(), Some(content));
            let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_');
            assert!(sealed.chars().all(plain), "{sealed}");
        }
    }

    #[test]
    fn the_code_is_that_of_the_standard() {
        // HMAC-SHA-256 of RFC 2104 over the length of the purpose, the purpose and the content; the
        // expected bytes were computed with Python's hmac and hashlib, and cut to sixteen.
        let seals = Seals::new([11; 32], None);
        assert_eq!(seals.seal("reset", b"Hi There"), "SGkgVGhlcmV5gBIq0kZOdhl5PB3URTlq");
    }

    #[test]
    fn every_change_of_a_seal_is_noticed() {
        let seals = Seals::new(NEW, None);
        let sealed = URL_SAFE_NO_PAD.decode(seals.seal("reset", b"club and link")).unwrap();
        for bit in 0..sealed.len() * 8 {
            let mut forged = sealed.clone();
            forged[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(seals.open("reset", &URL_SAFE_NO_PAD.encode(forged)), None, "bit {bit}");
        }
        for short in 0..sealed.len() {
            let cut = URL_SAFE_NO_PAD.encode(&sealed[..short]);
            assert_eq!(seals.open("reset", &cut), None, "{short} bytes");
        }
        let text = URL_SAFE_NO_PAD.encode(&sealed);
        for other in [format!("{text}A"), format!("{text}="), format!(" {text}"), "A".repeat(5_000)]
        {
            assert_eq!(seals.open("reset", &other), None, "{other}");
        }
    }

    #[test]
    fn a_seal_for_one_purpose_is_none_for_another() {
        let seals = Seals::new(NEW, None);
        let sealed = seals.seal("reset", b"x");
        for other in ["invitation", "rese", "resetx", ""] {
            assert_eq!(seals.open(other, &sealed), None, "{other}");
        }
        // The boundary between purpose and content cannot be moved.
        let code = |purpose: &str, content: &[u8]| code(&seals.current, purpose, content);
        assert_ne!(code("reset", b"x").as_ref(), code("rese", b"tx").as_ref());
    }

    #[test]
    fn the_previous_key_opens_and_does_not_seal() {
        let (before, now) = (Seals::new(OLD, None), Seals::new(NEW, Some(OLD)));
        let sealed = before.seal("refresh", b"x");
        assert_eq!(now.open("refresh", &sealed).as_deref(), Some(&b"x"[..]));
        assert_eq!(before.open("refresh", &now.seal("refresh", b"x")), None);
        assert_eq!(Seals::new(NEW, None).open("refresh", &sealed), None);
        assert_eq!(format!("{now:?}"), "seals");
    }
}
