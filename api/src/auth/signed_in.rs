//! The proof that goes with a request.

use std::future::{Ready, ready};

use actix_web::{FromRequest, HttpRequest, dev::Payload, http::header, web};
use domain::{
    bows::Bow,
    ids::{ClubId, MemberId},
    members::Role,
};

use crate::{error::ApiError, server::Api};

/// Somebody whose access token was checked. The club of a request is always this one.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SignedIn {
    pub(crate) club: ClubId,
    pub(crate) member: MemberId,
    pub(crate) role: Role,
}

impl SignedIn {
    /// Passes who looks after others' bows.
    pub(crate) fn looks_after_others(self) -> Result<Self, ApiError> {
        match self.role {
            Role::Coach | Role::Owner => Ok(self),
            Role::Archer => Err(ApiError::Forbidden("this is for coaches and owners of the club")),
        }
    }

    /// Passes who may log for a bow and work on it: coaches, owners, and the bow's own people.
    pub(crate) fn may_tend(self, bow: &Bow) -> Result<(), ApiError> {
        let own = [bow.archer, bow.keeper, bow.owner].contains(&Some(self.member));
        if own || self.role != Role::Archer {
            Ok(())
        } else {
            Err(ApiError::Forbidden("an archer tends a bow they shoot, keep or own"))
        }
    }
}

impl FromRequest for SignedIn {
    type Error = ApiError;
    type Future = Ready<Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(proof(request))
    }
}

/// The token of a header; the scheme's case does not matter (RFC 9110, section 11.1).
fn bearer(header: &str) -> Option<&str> {
    let (scheme, token) = header.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then_some(token)
}

fn proof(request: &HttpRequest) -> Result<SignedIn, ApiError> {
    let Some(api) = request.app_data::<web::Data<Api>>() else {
        return Err(ApiError::Internal("the server was built without its state".to_owned()));
    };
    let header = request.headers().get(header::AUTHORIZATION);
    let token = header.and_then(|value| bearer(value.to_str().ok()?));
    let Some(token) = token else {
        return Err(ApiError::NotSignedIn("send Authorization: Bearer and an access token"));
    };
    let Some(claimed) = api.tokens.check(token, api.now()) else {
        return Err(ApiError::NotSignedIn("the access token is not valid, or has run out"));
    };
    Ok(SignedIn { club: claimed.club, member: claimed.member, role: claimed.role })
}
