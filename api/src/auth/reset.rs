//! Choosing another password by a link that is mailed. Whether an address has an account is never told:
//! not by the answer, and not by how long it takes.

use actix_web::{HttpResponse, post, web};
use domain::{links::Purpose, members::EmailAddress};
use serde::{Deserialize, Serialize};
use store::{Store, StoreError, links};
use utoipa::ToSchema;

use super::{
    link::{DEAD, Found, NewPassword, chosen},
    login::login,
    throttle::Net,
};
use crate::{body::Body, error::ApiError, server::Api};

/// Whose password is to be another.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AskReset {
    #[schema(example = "maren@club.example", max_length = 254)]
    email: String,
}

/// What everybody is told.
#[derive(Serialize, ToSchema)]
pub(crate) struct ResetAskedBody {
    #[schema(example = "if somebody signs in by this address, a mail with a link is on its way")]
    detail: &'static str,
}

/// Ask for a link to choose another password by. The answer is the same for every address.
#[utoipa::path(
    operation_id = "ask_reset",
    tag = "accounts",
    request_body = AskReset,
    responses((status = 202, description = "Taken", body = ResetAskedBody)),
    security(())
)]
#[post("/auth/reset")]
pub(crate) async fn ask_reset(
    api: web::Data<Api>,
    from: Net,
    body: Body<AskReset>,
) -> Result<HttpResponse, ApiError> {
    let Body(AskReset { email }, _once) = body;
    let address = EmailAddress::parse(&email).ok();
    api.throttle.ask_reset(from, &address)?;
    if let Some(address) = address {
        // Not waited for: a transaction that writes takes longer than one that does not, and one that
        // fails would be told to those alone who have an account.
        actix_web::rt::spawn(send(api.store.clone(), address, api.now()));
    }
    let detail = "if somebody signs in by this address, a mail with a link is on its way";
    Ok(HttpResponse::Accepted().json(ResetAskedBody { detail }))
}

/// Writes the link and its mail, if somebody signs in by that address.
async fn send(store: Store, address: EmailAddress, now: jiff::Timestamp) {
    let sent = store.write(move |tx| {
        let Some(found) = login(tx, &address)? else { return Ok(()) };
        let member = store::members::get(tx, found.club, found.member)?;
        links::send_reset(tx, found.club, &member, now).map(drop)
    });
    let sent: Result<(), StoreError> = sent.await;
    if let Err(error) = sent {
        tracing::error!(%error, "a link to choose another password could not be written");
    }
}

/// Choose another password by the link that was mailed. Every device is signed out.
#[utoipa::path(
    operation_id = "reset_password",
    tag = "accounts",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    request_body = NewPassword,
    responses((status = 204, description = "Changed; sign in with it")),
    security(())
)]
#[post("/auth/reset/{token}")]
pub(crate) async fn reset_password(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
    body: Body<NewPassword>,
) -> Result<HttpResponse, ApiError> {
    api.throttle.link(from)?;
    let (found, password) = chosen(&api, Purpose::Reset, &token, body).await?;
    change(&api, &found, password).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Gives whom a link was mailed to another password, signs them out of every device, and uses the link up.
pub(crate) async fn change(api: &Api, found: &Found, password: String) -> Result<(), ApiError> {
    let (club, link) = (found.club.id, found.link);
    let (hash, now) = (api.passwords.hash(password).await?, api.now());
    let changed = api.store.write(move |tx| {
        if !links::use_up(tx, club, link.id, now)? {
            return Err(ApiError::from(DEAD));
        }
        match store::access::set_password(tx, club, link.member, &hash) {
            // Whoever left meanwhile has none to change.
            Err(StoreError::Changed) => return Err(ApiError::from(DEAD)),
            kept => kept?,
        }
        Ok(store::access::end_sign_ins(tx, club, link.member, None, now)?)
    });
    changed.await
}
