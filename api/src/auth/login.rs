//! Signing in.

use actix_web::{HttpResponse, http::header, post, web};
use domain::members::EmailAddress;
use serde::{Deserialize, Serialize};
use store::StoreError;
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
    let Body(SignIn { email, password }) = body;
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
    let role =
        api.store.read(move |read| store::members::get(read, club, member)).await.map(|m| m.role);
    let role = role.map_err(|error: StoreError| ApiError::from(error))?;
    let token = api.tokens.issue(Claimed { member, club, role }, api.now());
    let access_token =
        token.ok_or_else(|| ApiError::Internal("a token could not be signed".to_owned()))?;
    let body = TokenBody { access_token, expires_in_s: LIFETIME.as_secs(), token_type: "Bearer" };
    Ok(HttpResponse::Ok().insert_header((header::CACHE_CONTROL, "no-store")).json(body))
}
