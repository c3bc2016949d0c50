//! Leaving a club.

use actix_web::{HttpResponse, delete, web};
use domain::{audit::Subject, ids::MemberId, members::Member, squads::SquadPart};
use uuid::Uuid;

use super::body::MemberBody;
use crate::{
    audit::Changed,
    auth::SignedIn,
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
    versions::IfMatch,
};

/// Let somebody leave the club: an owner anybody, and everybody themselves. They are signed out
/// everywhere at once and get no more mail; what they shot stays.
#[utoipa::path(
    operation_id = "remove_member",
    tag = "members",
    params(
        ("id" = Uuid, Path, description = "The person"),
        ("If-Match" = String, Header, description = "The ETag that they were read with")
    ),
    responses((status = 204, description = "They left"))
)]
#[delete("/members/{id}")]
pub(crate) async fn remove_member(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let (id, now) = (MemberId(id.into_inner()), api.now());
    let left = api.store.write(move |tx| {
        let people = store::members::current_to_change(tx, who.club)?;
        let member = store::members::get(tx, who.club, id)?;
        if id != who.member {
            who.owns_the_club()?;
        }
        member.check_current()?;
        of.check(member.version)?;
        people.check_owner_stays(id, None)?;
        let left = Changed::of("remove_member", Subject::Member, id.0);
        let left = left.before(&MemberBody::one(tx, who.club, &member)?)?;
        let gone = Member { left_at: Some(now), ..member };
        let gone = store::members::change(tx, who.club, &gone)?;
        store::squads::take_out(tx, who.club, id, SquadPart::ALL)?;
        store::access::end(tx, who.club, id, now)?;
        let left = left.after(&MemberBody::one(tx, who.club, &gone)?)?;
        who.record(tx, now, left)
    });
    left.await?;
    Ok(HttpResponse::NoContent().finish())
}
