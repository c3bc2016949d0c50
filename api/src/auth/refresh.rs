//! Staying signed in, and signing out. A refresh token works once: it is exchanged for the next. One
//! that comes a second time was copied, by whom nobody can tell, so all that it led to ends.

use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use store::{
    StoreError,
    sign_ins::{self, Refreshed},
};
use utoipa::ToSchema;

use super::{
    login::{TokenBody, holds_until},
    sealed::Refresh,
    throttle::Net,
};
use crate::{body::Body, error::ApiError, server::Api};

/// A refresh token.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RefreshToken {
    /// The newest one that this device was given.
    #[schema(max_length = 512)]
    refresh_token: String,
}

const REFUSED: ApiError = ApiError::NotSignedIn("the refresh token is not valid: sign in again");

/// Exchange a refresh token for an access token and the next refresh token. Each works once: one that
/// comes again signs the device out.
#[utoipa::path(
    operation_id = "refresh_access",
    tag = "accounts",
    request_body = RefreshToken,
    responses((status = 200, description = "Still signed in", body = TokenBody)),
    security(())
)]
#[post("/auth/refresh")]
pub(crate) async fn refresh_access(
    api: web::Data<Api>,
    from: Net,
    body: Body<RefreshToken>,
) -> Result<HttpResponse, ApiError> {
    api.throttle.refresh(from)?;
    let Refresh { club, sign_in, generation } = opened(&api, &body)?;
    let now = api.now();
    let refreshed = api
        .store
        .write(move |tx| sign_ins::refresh(tx, club, (sign_in, generation), holds_until(now), now));
    match refreshed.await.map_err(|error: StoreError| ApiError::from(error))? {
        Refreshed::Rotated(sign_in) => Ok(TokenBody::of(&api, club, &sign_in, now)?.respond()),
        Refreshed::Replayed => {
            tracing::warn!(%club, %sign_in, "a refresh token came twice; its device is signed out");
            Err(REFUSED)
        }
        Refreshed::Gone => Err(REFUSED),
    }
}

/// Sign a device out: its access tokens and refresh tokens are worth nothing from now on.
#[utoipa::path(
    operation_id = "sign_out",
    tag = "accounts",
    request_body = RefreshToken,
    responses((status = 204, description = "Signed out, now or before")),
    security(())
)]
#[post("/auth/sign-out")]
pub(crate) async fn sign_out(
    api: web::Data<Api>,
    from: Net,
    body: Body<RefreshToken>,
) -> Result<HttpResponse, ApiError> {
    api.throttle.refresh(from)?;
    let Refresh { club, sign_in, .. } = opened(&api, &body)?;
    let now = api.now();
    let ended = api.store.write(move |tx| sign_ins::end(tx, club, sign_in, now));
    ended.await.map_err(|error: StoreError| ApiError::from(error))?;
    Ok(HttpResponse::NoContent().finish())
}

fn opened(api: &Api, Body(body, _once): &Body<RefreshToken>) -> Result<Refresh, ApiError> {
    Refresh::open(&api.seals, &body.refresh_token).ok_or(REFUSED)
}
