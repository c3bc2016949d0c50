//! Signing in.

use actix_web::{HttpResponse, http::header, post, web};
use domain::{
    ids::{ClubId, SignInId},
    members::EmailAddress,
};
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use store::{Read, StoreError, fresh_id, members::Login, sign_ins::SignIn as Device};
use utoipa::ToSchema;

use super::{
    sealed::Refresh,
    throttle::Net,
    token::{Claimed, LIFETIME},
};
use crate::{body::Body, error::ApiError, server::Api};

/// What somebody signs in with.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SignIn {
    #[schema(example = "maren@club.example", max_length = 254)]
    email: String,
    #[schema(example = "correct horse battery", max_length = 256)]
    password: String,
}

/// A fresh access token, and the refresh token to get the next one with.
#[derive(Serialize, ToSchema)]
pub(crate) struct TokenBody {
    access_token: String,
    #[schema(example = 900)]
    expires_in_s: i64,
    #[schema(example = "Bearer")]
    token_type: &'static str,
    /// Works once, within 90 days; keep it as you would a password.
    refresh_token: String,
}

/// How long a device stays signed in that is not used.
const SIGN_IN_LASTS: SignedDuration = SignedDuration::from_hours(90 * 24);

const REFUSED: ApiError = ApiError::NotSignedIn("no account has this address and password");

/// Until when a device that is used now stays signed in.
pub(super) fn holds_until(now: Timestamp) -> Timestamp {
    now.saturating_add(SIGN_IN_LASTS).unwrap_or(now)
}

impl TokenBody {
    /// What a device is given for its present generation.
    pub(super) fn of(
        api: &Api,
        club: ClubId,
        device: &Device,
        now: Timestamp,
    ) -> Result<Self, ApiError> {
        let claimed = Claimed { member: device.member, club, sign_in: device.id };
        let token = api.tokens.issue(claimed, now);
        let refresh = Refresh { club, sign_in: device.id, generation: device.generation };
        Ok(Self {
            access_token: token
                .ok_or_else(|| ApiError::Internal("a token could not be signed".to_owned()))?,
            expires_in_s: LIFETIME.as_secs(),
            token_type: "Bearer",
            refresh_token: refresh.seal(&api.seals),
        })
    }

    /// No cache may keep it (RFC 6749, section 5.1).
    pub(super) fn respond(self) -> HttpResponse {
        HttpResponse::Ok().insert_header((header::CACHE_CONTROL, "no-store")).json(self)
    }
}

/// Sign in.
#[utoipa::path(
    operation_id = "sign_in",
    tag = "accounts",
    request_body = SignIn,
    responses((status = 200, description = "Signed in", body = TokenBody)),
    security(())
)]
#[post("/auth/sign-in")]
pub(crate) async fn sign_in(
    api: web::Data<Api>,
    from: Net,
    body: Body<SignIn>,
) -> Result<HttpResponse, ApiError> {
    let Body(SignIn { email, password }, _once) = body;
    // An address that cannot be one is nobody's; it takes as long to say so.
    let address = EmailAddress::parse(&email).ok();
    api.throttle.sign_in(from, address.clone())?;
    let login = match address {
        Some(address) => api.store.read(move |read| login(read, &address)).await?,
        None => None,
    };
    let hash = login.as_ref().map(|login| login.password_hash.clone());
    let matches = api.passwords.matches(password, hash).await?;
    let Some(login) = login.filter(|_| matches) else { return Err(REFUSED) };
    let (club, now) = (login.club, api.now());
    let device = Device {
        id: fresh_id::<SignInId>(now),
        member: login.member,
        generation: 0,
        created_at: now,
        expires_at: holds_until(now),
        ended_at: None,
    };
    let hash_then = login.password_hash;
    let signed_in = api.store.write(move |tx| {
        // The password may have been changed while it was being checked, which takes a while.
        let now_known = store::access::password_hash(tx, club, device.member)?;
        if now_known.as_ref() != Some(&hash_then) {
            return Err(REFUSED);
        }
        store::sign_ins::add(tx, club, &device).map_err(ApiError::from)
    });
    signed_in.await?;
    Ok(TokenBody::of(&api, club, &device, now)?.respond())
}

/// What somebody signs in with who has not left.
pub(super) fn login(
    read: &mut Read<'_>,
    address: &EmailAddress,
) -> Result<Option<Login>, StoreError> {
    let Some(login) = store::members::login(read, address)? else { return Ok(None) };
    let member = store::members::get(read, login.club, login.member)?;
    Ok(Some(login).filter(|_| member.left_at.is_none()))
}
