//! Inviting somebody again who has not joined yet.

use actix_web::{HttpResponse, post, web};
use domain::{
    ids::MemberId,
    members::Member,
    membership::{DAY, check_invitation},
};
use jiff::Timestamp;
use serde::Deserialize;
use store::Tx;
use utoipa::ToSchema;
use uuid::Uuid;

use super::read::NOT_THEIRS;
use crate::{answer::Answer, auth::SignedIn, body::Body, error::ApiError, server::Api};

/// An empty object.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SendInvitation {}

/// Send another invitation to somebody who has not joined yet, at most three a day.
#[utoipa::path(
    operation_id = "send_invitation",
    tag = "members",
    params(("id" = Uuid, Path, description = "The person")),
    request_body = SendInvitation,
    responses((status = 204, description = "Another invitation is on its way"))
)]
#[post("/members/{id}/invitation")]
pub(crate) async fn send_invitation(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: Body<SendInvitation>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let (id, now) = (MemberId(id.into_inner()), api.now());
    api.write_once(who, body.1, move |tx| {
        store::members::current_to_change(tx, who.club)?;
        let member = store::members::get(tx, who.club, id)?;
        if !who.reach(tx)?.member(id) {
            return Err(NOT_THEIRS);
        }
        member.check_current()?;
        invite_again(tx, who, &member, now)?;
        Ok(Answer::nothing())
    })
    .await
}

/// Invites somebody again, if they may be.
pub(super) fn invite_again(
    tx: &mut Tx<'_>,
    who: SignedIn,
    member: &Member,
    now: Timestamp,
) -> Result<(), ApiError> {
    let since = now.saturating_sub(DAY).unwrap_or(now);
    let sent = store::access::invited_since(tx, who.club, member.id, since)?;
    let joined = store::access::password_hash(tx, who.club, member.id)?.is_some();
    check_invitation(joined, &sent, now)?;
    store::links::invite(tx, who.club, member, now)?;
    Ok(())
}
