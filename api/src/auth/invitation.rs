//! Joining a club by the link that was mailed. Looking at an invitation changes nothing: a program that
//! looks at every link in a mail accepts none.

use actix_web::{HttpResponse, get, http::header, post, web};
use domain::links::Purpose;
use serde::Serialize;
use store::links;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{
    link::{DEAD, Found, NewPassword, chosen, find},
    throttle::Net,
};
use crate::{
    body::Body,
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
};

/// Who is asked to join what.
#[derive(Serialize, ToSchema)]
pub(crate) struct InvitationBody {
    #[schema(example = "Bowmen of Invented Hill")]
    club_name: String,
    #[schema(example = "Odo Fenwright")]
    member_name: String,
    /// Until when the link works.
    #[schema(value_type = String, format = DateTime)]
    expires_at: jiff::Timestamp,
}

/// Who joined what.
#[derive(Serialize, ToSchema)]
pub(crate) struct JoinedBody {
    club_id: Uuid,
    member_id: Uuid,
}

/// What an invitation is for. It changes nothing.
#[utoipa::path(
    operation_id = "get_invitation",
    tag = "accounts",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    responses((status = 200, description = "It can be accepted", body = InvitationBody)),
    security(())
)]
#[get("/invitations/{token}")]
pub(crate) async fn get_invitation(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
    _none: Query<NoQuery>,
) -> Result<HttpResponse, ApiError> {
    api.throttle.link(from)?;
    let Found { club, member, link, .. } = find(&api, Purpose::Invitation, &token).await?;
    let body = InvitationBody {
        club_name: club.name.to_string(),
        member_name: member.name.to_string(),
        expires_at: link.expires_at,
    };
    Ok(HttpResponse::Ok().insert_header((header::CACHE_CONTROL, "no-store")).json(body))
}

/// Accept an invitation: choose a password to sign in with.
#[utoipa::path(
    operation_id = "accept_invitation",
    tag = "accounts",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    request_body = NewPassword,
    responses((status = 201, description = "Joined; sign in next", body = JoinedBody)),
    security(())
)]
#[post("/invitations/{token}")]
pub(crate) async fn accept_invitation(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
    body: Body<NewPassword>,
) -> Result<HttpResponse, ApiError> {
    api.throttle.link(from)?;
    let (found, password) = chosen(&api, Purpose::Invitation, &token, body).await?;
    join(&api, &found, password).await?;
    let answer = JoinedBody { club_id: found.club.id.0, member_id: found.member.id.0 };
    Ok(HttpResponse::Created().json(answer))
}

/// Lets whom a link was mailed to sign in by that password from now on, and uses the link up.
pub(crate) async fn join(api: &Api, found: &Found, password: String) -> Result<(), ApiError> {
    let (club, member, link) = (found.club.id, found.member.id, found.link.id);
    let (hash, now) = (api.passwords.hash(password).await?, api.now());
    let joined = api.store.write(move |tx| {
        if !links::use_up(tx, club, link, now)? {
            return Err(DEAD.into());
        }
        // As they are now: their address may have been mended since the link was opened.
        let member = store::members::get(tx, club, member)?;
        if store::access::join(tx, club, &member, &hash)? { Ok(()) } else { Err(taken()) }
    });
    joined.await
}

fn taken() -> ApiError {
    ApiError::Conflict {
        code: "address_taken",
        detail: "somebody signs in by this address already, here or in another club; ask for an \
                 invitation to another one"
            .to_owned(),
    }
}
