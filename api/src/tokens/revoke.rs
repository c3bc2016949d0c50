//! Taking a token out of use.

use actix_web::{HttpResponse, delete, web};
use domain::{audit::Subject, ids::ScriptTokenId};
use store::script_tokens;
use uuid::Uuid;

use super::body::TokenBody;
use crate::{
    audit::Changed,
    auth::SignedIn,
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
};

const NOT_THEIRS: ApiError =
    ApiError::Forbidden("this is for whoever made the token, and for owners of the club");

/// Revoke a token: whoever shows it is turned away from now on.
#[utoipa::path(
    operation_id = "revoke_token",
    tag = "accounts",
    params(("id" = Uuid, Path, description = "The token's id, not the token")),
    responses((status = 204, description = "Revoked, now or before"))
)]
#[delete("/tokens/{id}")]
pub(crate) async fn revoke_token(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    who.signed_in_themselves()?;
    let (id, now) = (ScriptTokenId(id.into_inner()), api.now());
    let revoked = api.store.write(move |tx| {
        let token = script_tokens::get(tx, who.club, id)?;
        if token.member != who.member {
            who.owns_the_club().map_err(|_not| NOT_THEIRS)?;
        }
        // Whoever asks again changes nothing.
        if token.revoked_at.is_some() {
            return Ok(());
        }
        script_tokens::revoke(tx, who.club, id, now)?;
        let revoked = Changed::of("revoke_token", Subject::Token, id.0);
        who.record(tx, now, revoked.before(&TokenBody::from(&token))?)
    });
    revoked.await?;
    Ok(HttpResponse::NoContent().finish())
}
