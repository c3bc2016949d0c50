//! Looking one's tokens over.

use actix_web::{get, web};
use store::StoreError;

use super::body::TokenBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, NoQuery, Query},
    server::Api,
};

/// Your tokens that are in use, in the order they were made. All of them: there are at most fifty.
#[utoipa::path(
    operation_id = "list_tokens",
    tag = "accounts",
    responses((status = 200, description = "Your tokens", body = ListBody<TokenBody>))
)]
#[get("/tokens")]
pub(crate) async fn list_tokens(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
) -> Result<web::Json<ListBody<TokenBody>>, ApiError> {
    let found =
        api.store.read(move |read| store::script_tokens::of_member(read, who.club, who.member));
    let tokens = found.await.map_err(|error: StoreError| ApiError::from(error))?;
    Ok(web::Json(ListBody::whole(tokens.iter().map(TokenBody::from).collect())))
}
