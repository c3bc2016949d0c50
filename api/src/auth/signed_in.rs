//! The proof that goes with a request.

use actix_web::{
    FromRequest, HttpRequest,
    dev::Payload,
    http::{Method, header},
    web,
};
use aws_lc_rs::digest;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use domain::{
    bows::Bow,
    ids::{ClubId, MemberId, ScriptTokenId, SignInId},
    members::{Member, Role},
    reach::Reach,
    script_tokens::Scope,
};
use futures_util::future::LocalBoxFuture;
use jiff::Timestamp;
use store::{Read, StoreError, script_tokens};

use super::token::Claimed;
use crate::{error::ApiError, server::Api};

/// Somebody whose proof was checked, with what they may do now. The club of a request is always
/// this one.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SignedIn {
    pub(crate) club: ClubId,
    pub(crate) member: MemberId,
    pub(crate) role: Role,
    pub(crate) proof: Proof,
}

/// By what somebody proved who they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Proof {
    /// They signed in themselves.
    SignIn(SignInId),
    /// A script acts for them, for one kind of thing.
    Script(ScriptTokenId, Scope),
    /// They followed the link of a mail to them, which is good for one thing.
    Link,
}

impl SignedIn {
    /// Passes who signed in themselves: no script decides who else gets in.
    pub(crate) fn signed_in_themselves(self) -> Result<SignInId, ApiError> {
        match self.proof {
            Proof::SignIn(sign_in) => Ok(sign_in),
            Proof::Script(..) | Proof::Link => {
                Err(ApiError::Forbidden("sign in to do this; a script may not"))
            }
        }
    }

    /// Somebody who followed the link of a mail to them, if they have not left.
    pub(crate) fn by_link(club: ClubId, member: &Member) -> Option<Self> {
        let here = member.left_at.is_none();
        here.then_some(Self { club, member: member.id, role: member.role, proof: Proof::Link })
    }

    /// Passes what a script may ask for.
    fn within_scope(self, request: &HttpRequest) -> Result<Self, ApiError> {
        let allowed = match self.proof {
            Proof::SignIn(_) => true,
            // It is no credential of a request.
            Proof::Link => false,
            Proof::Script(_, Scope::Read) => request.method() == Method::GET,
            Proof::Script(_, Scope::Log) => {
                request.method() == Method::POST && LOGGING.contains(&request.path())
            }
        };
        if allowed { Ok(self) } else { Err(OUT_OF_SCOPE) }
    }

    /// Passes who looks after others' bows.
    pub(crate) fn looks_after_others(self) -> Result<Self, ApiError> {
        match self.role {
            Role::Coach | Role::Owner => Ok(self),
            Role::Archer => Err(ApiError::Forbidden("this is for coaches and owners of the club")),
        }
    }

    /// Passes who looks after the whole club.
    pub(crate) fn owns_the_club(self) -> Result<Self, ApiError> {
        match self.role {
            Role::Owner => Ok(self),
            _ => Err(ApiError::Forbidden("this is for owners of the club")),
        }
    }

    /// Whose bows they may see and work on.
    pub(crate) fn reach(self, read: &mut Read<'_>) -> Result<Reach, StoreError> {
        store::squads::reach(read, self.club, self.member, self.role)
    }

    /// Passes who may see a bow, log for it and work on it: its own people, the coach of their squad,
    /// and owners of the club.
    pub(crate) fn may_tend(self, read: &mut Read<'_>, bow: &Bow) -> Result<(), ApiError> {
        if self.reach(read)?.bow(bow) { Ok(()) } else { Err(NOT_THEIRS) }
    }
}

/// All that a script may ask for that logs.
const LOGGING: [&str; 2] = ["/api/v1/shot-logs", "/api/v1/shot-logs/batch"];

const OUT_OF_SCOPE: ApiError = ApiError::Forbidden(
    "a token of the scope log may only log shots, and one of the scope read may only read",
);

/// What the token of a script begins with, so that it is known where it turns up.
pub(crate) const SCRIPT_PREFIX: &str = "tl_";

/// What the token of a script is known by. It is chance enough that its hash needs no salt.
pub(crate) fn token_hash(token: &str) -> String {
    URL_SAFE_NO_PAD.encode(digest::digest(&digest::SHA256, token.as_bytes()))
}

/// Why a bow is out of reach.
pub(crate) const NOT_THEIRS: ApiError = ApiError::Forbidden(
    "this is for who shoots, keeps or owns the bow, for the coach of their squad, and for owners of \
     the club",
);

impl FromRequest for SignedIn {
    type Error = ApiError;
    type Future = LocalBoxFuture<'static, Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        Box::pin(async move { proof(&request).await })
    }
}

/// The token of a header; the scheme's case does not matter (RFC 9110, section 11.1).
fn bearer(header: &str) -> Option<&str> {
    let (scheme, token) = header.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then_some(token)
}

const INVALID: ApiError =
    ApiError::NotSignedIn("the token is not valid, has run out, or was revoked");

async fn proof(request: &HttpRequest) -> Result<SignedIn, ApiError> {
    let Some(api) = request.app_data::<web::Data<Api>>() else {
        return Err(ApiError::Internal("the server was built without its state".to_owned()));
    };
    let header = request.headers().get(header::AUTHORIZATION);
    let token = header.and_then(|value| bearer(value.to_str().ok()?));
    let Some(token) = token else {
        return Err(ApiError::NotSignedIn("send Authorization: Bearer and an access token"));
    };
    let now = api.now();
    let who = if token.starts_with(SCRIPT_PREFIX) {
        script(api, token, now).await?
    } else {
        person(api, token, now).await?
    };
    who.within_scope(request)
}

/// Somebody who signed in.
async fn person(api: &Api, token: &str, now: Timestamp) -> Result<SignedIn, ApiError> {
    let Claimed { member, club, sign_in } = api.tokens.check(token, now).ok_or(INVALID)?;
    // What they may do is asked each time: somebody who left or was signed out is out at once.
    let standing = api
        .store
        .read(move |read| store::sign_ins::standing(read, club, sign_in, now))
        .await
        .map_err(|error: StoreError| ApiError::from(error))?;
    match standing {
        Some((found, role)) if found == member => {
            Ok(SignedIn { club, member, role, proof: Proof::SignIn(sign_in) })
        }
        _ => Err(INVALID),
    }
}

/// Somebody whom a script acts for.
async fn script(api: &Api, token: &str, now: Timestamp) -> Result<SignedIn, ApiError> {
    let hash = token_hash(token);
    let found = api
        .store
        .read(move |read| script_tokens::bearer(read, &hash))
        .await
        .map_err(|error: StoreError| ApiError::from(error))?;
    let bearer = found.ok_or(INVALID)?;
    let (club, token, today) = (bearer.club, bearer.token, bearer.zone.date_of(now));
    if bearer.last_used_on != Some(today) {
        let noted = api.store.write(move |tx| script_tokens::used(tx, club, token, today));
        let noted: Result<(), StoreError> = noted.await;
        if let Err(error) = noted {
            // It is for people to look at; the request need not fail for it.
            tracing::warn!(%token, %error, "the day of a token's use could not be noted");
        }
    }
    let proof = Proof::Script(token, bearer.scope);
    Ok(SignedIn { club, member: bearer.member, role: bearer.role, proof })
}
