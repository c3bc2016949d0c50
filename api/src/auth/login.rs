//! Signing in.

use actix_web::{HttpResponse, http::header, post, web};
use domain::{ids::SignInId, members::EmailAddress};
use jiff::SignedDuration;
use serde::{Deserialize, Serialize};
use store::{StoreError, fresh_id, sign_ins::SignIn as NewSignIn};
use utoipa::ToSchema;

use super::token::{Claimed, LIFETIME};
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

/// A fresh access token.
#[derive(Serialize, ToSchema)]
pub(crate) struct TokenBody {
    access_token: String,
    #[schema(example = 900)]
    expires_in_s: i64,
    #[schema(example = "Bearer")]
    token_type: &'static str,
}

/// How long a device stays signed in that does not sign out.
const SIGN_IN_LASTS: SignedDuration = SignedDuration::from_hours(90 * 24);

const REFUSED: ApiError = ApiError::NotSignedIn("no account has this address and password");

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
    body: Body<SignIn>,
) -> Result<HttpResponse, ApiError> {
    let Body(SignIn { email, password }, _once) = body;
    // An address that cannot be one is nobody's; it takes as long to say so.
    let address = EmailAddress::parse(&email).ok();
    let login = match address {
        Some(address) => api.store.read(move |read| store::members::login(read, &address)).await?,
        None => None,
    };
    let hash = login.as_ref().map(|login| login.password_hash.clone());
    let matches = api.passwords.matches(password, hash).await?;
    let Some(login) = login.filter(|_| matches) else { return Err(REFUSED) };
    let (club, member) = (login.club, login.member);
    let now = api.now();
    let sign_in = NewSignIn {
        id: fresh_id::<SignInId>(now),
        member,
        generation: 0,
        created_at: now,
        expires_at: now.saturating_add(SIGN_IN_LASTS).unwrap_or(now),
        ended_at: None,
    };
    let id = sign_in.id;
    api.store
        .write(move |tx| store::sign_ins::add(tx, club, &sign_in))
        .await
        .map_err(|error: StoreError| ApiError::from(error))?;
    let token = api.tokens.issue(Claimed { member, club, sign_in: id }, now);
    let access_token =
        token.ok_or_else(|| ApiError::Internal("a token could not be signed".to_owned()))?;
    let body = TokenBody { access_token, expires_in_s: LIFETIME.as_secs(), token_type: "Bearer" };
    Ok(HttpResponse::Ok().insert_header((header::CACHE_CONTROL, "no-store")).json(body))
}
