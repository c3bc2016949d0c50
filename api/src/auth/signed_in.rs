//! The proof that goes with a request.

use actix_web::{FromRequest, HttpRequest, dev::Payload, http::header, web};
use domain::{
    bows::Bow,
    ids::{ClubId, MemberId, SignInId},
    members::Role,
    reach::Reach,
};
use futures_util::future::LocalBoxFuture;
use store::{Read, StoreError};

use super::token::Claimed;
use crate::{error::ApiError, server::Api};

/// Somebody whose proof was checked, with what they may do now. The club of a request is always
/// this one.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SignedIn {
    pub(crate) club: ClubId,
    pub(crate) member: MemberId,
    pub(crate) role: Role,
    pub(crate) sign_in: SignInId,
}

impl SignedIn {
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

async fn proof(request: &HttpRequest) -> Result<SignedIn, ApiError> {
    const INVALID: ApiError =
        ApiError::NotSignedIn("the access token is not valid, or has run out");
    let Some(api) = request.app_data::<web::Data<Api>>() else {
        return Err(ApiError::Internal("the server was built without its state".to_owned()));
    };
    let header = request.headers().get(header::AUTHORIZATION);
    let token = header.and_then(|value| bearer(value.to_str().ok()?));
    let Some(token) = token else {
        return Err(ApiError::NotSignedIn("send Authorization: Bearer and an access token"));
    };
    let now = api.now();
    let Claimed { member, club, sign_in } = api.tokens.check(token, now).ok_or(INVALID)?;
    // What they may do is asked each time: somebody who left or was signed out is out at once.
    let standing = api
        .store
        .read(move |read| store::sign_ins::standing(read, club, sign_in, now))
        .await
        .map_err(|error: StoreError| ApiError::from(error))?;
    match standing {
        Some((found, role)) if found == member => Ok(SignedIn { club, member, role, sign_in }),
        _ => Err(INVALID),
    }
}
