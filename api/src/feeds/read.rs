//! Looking one's calendars over.

use actix_web::{get, web};
use store::StoreError;

use super::body::FeedBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, NoQuery, Query},
    server::Api,
};

/// Your calendars that are in use, in the order they were made. All of them: there are at most twenty.
#[utoipa::path(
    operation_id = "list_feeds",
    tag = "feeds",
    responses((status = 200, description = "Your calendars", body = ListBody<FeedBody>))
)]
#[get("/feeds")]
pub(crate) async fn list_feeds(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
) -> Result<web::Json<ListBody<FeedBody>>, ApiError> {
    let found = api.store.read(move |read| store::feeds::of_member(read, who.club, who.member));
    let feeds = found.await.map_err(|error: StoreError| ApiError::from(error))?;
    Ok(web::Json(ListBody::whole(feeds.iter().map(FeedBody::from).collect())))
}
