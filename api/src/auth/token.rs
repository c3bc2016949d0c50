//! Access tokens: short-lived, signed by us for us (RFC 7519, with the advice of RFC 8725).

use domain::ids::{ClubId, MemberId, SignInId};
use jiff::{SignedDuration, Timestamp};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// How long an access token holds.
pub(crate) const LIFETIME: SignedDuration = SignedDuration::from_mins(15);
/// How far the clocks of two of our servers may differ.
const LEEWAY: SignedDuration = SignedDuration::from_secs(30);

const ISSUER: &str = "tautline";
const AUDIENCE: &str = "tautline-api";
/// The kind of token, so that one made for another purpose is never taken for this one.
const TYPE: &str = "at+jwt";

/// The secret that access tokens are signed with, and the name it goes by in their header.
pub struct SigningKey {
    /// Its name.
    pub id: String,
    /// At least 256 bits.
    pub secret: [u8; 32],
}

/// Signs and checks access tokens.
pub(crate) struct Tokens {
    key_id: String,
    encoding: EncodingKey,
    /// By name, what is checked: our own key and at most the one before it. A token chooses among
    /// these and brings none of its own.
    decoding: Vec<(String, DecodingKey)>,
    validation: Validation,
}

/// What an access token says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Claimed {
    pub(crate) member: MemberId,
    pub(crate) club: ClubId,
    pub(crate) sign_in: SignInId,
}

#[derive(Serialize, Deserialize)]
struct Claims {
    iss: String,
    aud: String,
    sub: Uuid,
    club: Uuid,
    /// The sign-in that the token is for.
    sid: Uuid,
    iat: i64,
    nbf: i64,
    exp: i64,
}

impl Tokens {
    pub(crate) fn new(key: &SigningKey, previous: Option<&SigningKey>) -> Self {
        let mut validation = Validation::new(Algorithm::HS256);
        validation.set_required_spec_claims(&["exp", "nbf", "aud", "iss", "sub"]);
        validation.set_issuer(&[ISSUER]);
        validation.set_audience(&[AUDIENCE]);
        // Times are checked against the clock we were handed, not the library's own.
        validation.validate_exp = false;
        validation.validate_nbf = false;
        Self {
            key_id: key.id.clone(),
            encoding: EncodingKey::from_secret(&key.secret),
            decoding: [Some(key), previous]
                .into_iter()
                .flatten()
                .map(|key| (key.id.clone(), DecodingKey::from_secret(&key.secret)))
                .collect(),
            validation,
        }
    }

    /// A token for a member; none if it cannot be signed.
    pub(crate) fn issue(&self, who: Claimed, now: Timestamp) -> Option<String> {
        let header = Header {
            typ: Some(TYPE.to_owned()),
            kid: Some(self.key_id.clone()),
            ..Header::new(Algorithm::HS256)
        };
        let claims = Claims {
            iss: ISSUER.to_owned(),
            aud: AUDIENCE.to_owned(),
            sub: who.member.0,
            club: who.club.0,
            sid: who.sign_in.0,
            iat: now.as_second(),
            nbf: now.as_second(),
            exp: now.as_second() + LIFETIME.as_secs(),
        };
        jsonwebtoken::encode(&header, &claims, &self.encoding).ok()
    }

    /// What a token says, if it is ours, of this kind, and in force.
    pub(crate) fn check(&self, token: &str, now: Timestamp) -> Option<Claimed> {
        let named = jsonwebtoken::decode_header(token).ok()?.kid?;
        let (_, key) = self.decoding.iter().find(|(id, _)| *id == named)?;
        let data = jsonwebtoken::decode::<Claims>(token, key, &self.validation).ok()?;
        let is_access = data.header.typ.as_deref() == Some(TYPE);
        let claims = data.claims;
        let (now, leeway) = (now.as_second(), LEEWAY.as_secs());
        let in_force = claims.nbf <= now.saturating_add(leeway)
            && now < claims.exp.saturating_add(leeway)
            && claims.exp.saturating_sub(claims.nbf) <= LIFETIME.as_secs();
        (is_access && in_force).then_some(())?;
        Some(Claimed {
            member: MemberId(claims.sub),
            club: ClubId(claims.club),
            sign_in: SignInId(claims.sid),
        })
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    const SECRET: [u8; 32] = [7; 32];

    fn tokens() -> Tokens {
        Tokens::new(&key("a1", SECRET), None)
    }

    fn key(id: &str, secret: [u8; 32]) -> SigningKey {
        SigningKey { id: id.to_owned(), secret }
    }

    fn now() -> Timestamp {
        Timestamp::from_second(1_800_000_000).unwrap()
    }

    fn who() -> Claimed {
        let (member, club) = (MemberId(Uuid::from_u128(1)), ClubId(Uuid::from_u128(2)));
        Claimed { member, club, sign_in: SignInId(Uuid::from_u128(3)) }
    }

    /// Signs whatever is given, as somebody who had the secret could.
    fn forge(change: impl FnOnce(&mut Header, &mut Value), secret: &[u8]) -> String {
        let mut header = Header {
            typ: Some(TYPE.to_owned()),
            kid: Some("a1".to_owned()),
            ..Header::new(Algorithm::HS256)
        };
        let mut claims = json!({
            "iss": ISSUER, "aud": AUDIENCE, "sub": Uuid::from_u128(1), "club": Uuid::from_u128(2),
            "sid": Uuid::from_u128(3), "iat": 1_800_000_000, "nbf": 1_800_000_000, "exp": 1_800_000_900,
        });
        change(&mut header, &mut claims);
        jsonwebtoken::encode(&header, &claims, &EncodingKey::from_secret(secret)).unwrap()
    }

    fn remove(claim: &str) -> String {
        forge(|_, claims| drop(claims.as_object_mut().unwrap().remove(claim)), &SECRET)
    }

    #[test]
    fn a_token_of_ours_is_taken_until_it_runs_out() {
        let token = tokens().issue(who(), now()).unwrap();
        let after = |secs| now() + SignedDuration::from_secs(secs);
        assert_eq!(tokens().check(&token, now()), Some(who()));
        assert_eq!(tokens().check(&token, after(929)), Some(who()));
        assert_eq!(tokens().check(&token, after(930)), None);
        assert_eq!(tokens().check(&token, after(-31)), None);
        assert_eq!(tokens().check(&forge(|_, _| {}, &SECRET), now()), Some(who()));
    }

    #[test]
    fn the_key_before_is_taken_by_its_name_and_signs_nothing() {
        let old = tokens().issue(who(), now()).unwrap();
        let rotated = Tokens::new(&key("b2", [9; 32]), Some(&key("a1", SECRET)));
        assert_eq!(rotated.check(&old, now()), Some(who()));
        let new = rotated.issue(who(), now()).unwrap();
        assert_eq!(rotated.check(&new, now()), Some(who()));
        assert_eq!(tokens().check(&new, now()), None);
        assert_eq!(Tokens::new(&key("b2", [9; 32]), None).check(&old, now()), None);
        // Signed by one and named for the other.
        let mixed = forge(|header, _| header.kid = Some("b2".to_owned()), &SECRET);
        assert_eq!(rotated.check(&mixed, now()), None);
        let unnamed = forge(|header, _| header.kid = None, &SECRET);
        assert_eq!(rotated.check(&unnamed, now()), None);
    }

    #[test]
    fn a_token_that_lacks_a_claim_or_has_a_wrong_one_is_refused() {
        for claim in ["aud", "iss", "exp", "nbf", "sub", "club", "sid"] {
            assert_eq!(tokens().check(&remove(claim), now()), None, "without {claim}");
        }
        for (claim, value) in [
            ("aud", json!("another-api")),
            ("iss", json!("somebody")),
            ("exp", json!(1_799_999_000)),
            ("exp", json!("1800000900")),
            ("exp", json!(i64::MAX)),
            ("nbf", json!(1_800_000_600)),
            ("sid", json!("emperor")),
        ] {
            let token = forge(|_, claims| claims[claim] = value.clone(), &SECRET);
            assert_eq!(tokens().check(&token, now()), None, "{claim} = {value}");
        }
    }

    #[test]
    fn a_token_signed_otherwise_is_refused() {
        let other_secret = forge(|_, _| {}, &[8; 32]);
        let other_type = forge(|header, _| header.typ = Some("reset".to_owned()), &SECRET);
        let other_key = forge(|header, _| header.kid = Some("../a1".to_owned()), &SECRET);
        let other_algorithm = forge(|header, _| header.alg = Algorithm::HS512, &SECRET);
        // {"alg":"none","typ":"at+jwt","kid":"a1"}, no signature.
        let body = tokens().issue(who(), now()).unwrap();
        let body = body.split('.').nth(1).unwrap();
        let none = format!("eyJhbGciOiJub25lIiwidHlwIjoiYXQrand0Iiwia2lkIjoiYTEifQ.{body}.");
        for token in [other_secret, other_type, other_key, other_algorithm, none, String::new()] {
            assert_eq!(tokens().check(&token, now()), None, "{token}");
        }
    }
}
