//! Taking a calendar out of use.

use actix_web::{HttpResponse, delete, web};
use domain::{audit::Subject, ids::FeedId};
use store::feeds;
use uuid::Uuid;

use super::body::FeedBody;
use crate::{
    audit::Changed,
    auth::SignedIn,
    error::ApiError,
    paging::{NoQuery, Query},
    server::Api,
};

const NOT_THEIRS: ApiError =
    ApiError::Forbidden("this is for whoever made the calendar, and for owners of the club");

/// Revoke a calendar: nobody reads it by its address from now on.
#[utoipa::path(
    operation_id = "revoke_feed",
    tag = "feeds",
    params(("id" = Uuid, Path, description = "The calendar's id, not what stands in its address")),
    responses((status = 204, description = "Revoked, now or before"))
)]
#[delete("/feeds/{id}")]
pub(crate) async fn revoke_feed(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    who.signed_in_themselves()?;
    let (id, now) = (FeedId(id.into_inner()), api.now());
    let revoked = api.store.write(move |tx| {
        let feed = feeds::get(tx, who.club, id)?;
        if feed.member != who.member {
            who.owns_the_club().map_err(|_not| NOT_THEIRS)?;
        }
        // Whoever asks again changes nothing.
        if feed.revoked_at.is_some() {
            return Ok(());
        }
        feeds::revoke(tx, who.club, id, now)?;
        let revoked = Changed::of("revoke_feed", Subject::Feed, id.0);
        who.record(tx, now, revoked.before(&FeedBody::from(&feed))?)
    });
    revoked.await?;
    Ok(HttpResponse::NoContent().finish())
}
