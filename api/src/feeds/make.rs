//! Making a calendar to subscribe to.

use actix_web::{HttpResponse, http::header, post, web};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use domain::{
    audit::Subject,
    calendar::{Feed, FeedScope, MOST_FEEDS},
    ids::FeedId,
};
use serde::Deserialize;
use store::{feeds, fresh_id};
use utoipa::ToSchema;

use super::body::{FeedBody, MadeFeedBody, scopes};
use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, auth::token_hash, body::Body, error::ApiError,
    fields::Fields, server::Api,
};

/// What stands in the address of a calendar begins with this, so that it is known where it turns up.
const PREFIX: &str = "tlf_";

/// A calendar to be.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MakeFeed {
    /// So that you know later which program has it.
    #[schema(example = "Phone", max_length = 200)]
    name: String,
    /// `mine` has the events that you go to and the work on the bows that you look after; `squad` has
    /// those of everybody within your reach, and is for coaches and owners of the club.
    #[schema(schema_with = scopes)]
    scope: String,
}

/// Make a calendar to subscribe to. Its address is shown this once.
///
/// Whoever has the address reads the calendar: it needs no other proof, and goes on working until it is
/// revoked. It asks to be fetched every hour. Some calendar services fetch a subscribed calendar only
/// every 8 to 24 hours, whatever it asks for: what cannot wait comes by mail.
#[utoipa::path(
    operation_id = "make_feed",
    tag = "feeds",
    request_body = MakeFeed,
    responses((status = 201, description = "Made; keep the address, nobody can show it again",
        body = MadeFeedBody))
)]
#[post("/feeds")]
pub(crate) async fn make_feed(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<MakeFeed>,
) -> Result<HttpResponse, ApiError> {
    who.signed_in_themselves()?;
    let Body(MakeFeed { name, scope }, once) = body;
    let mut fields = Fields::default();
    let name = fields.name("/name", &name);
    let scope = fields.word("/scope", &scope, FeedScope::parse, FeedScope::ALL);
    let (name, scope) = fields.finish(name.zip(scope))?;
    if scope == FeedScope::Squad {
        who.looks_after_others()?;
    }
    let (now, id) = (api.now(), fresh_id::<FeedId>(api.now()));
    let feed = Feed { id, member: who.member, name, scope, created_at: now, revoked_at: None };
    let shown = shown()?;
    let url = format!("{}/api/v1/feeds/{shown}.ics", api.base_url);
    let made = api.write_once(who, once, move |tx| {
        if feeds::of_member(tx, who.club, who.member)?.len() >= MOST_FEEDS {
            return Err(too_many());
        }
        feeds::add(tx, who.club, &feed, &token_hash(&shown))?;
        let made = Changed::of("make_feed", Subject::Feed, feed.id.0);
        who.record(tx, now, made.after(&FeedBody::from(&feed))?)?;
        let body = MadeFeedBody::of(&feed, Some(url));
        Answer::created(&body)?.kept_as(&MadeFeedBody::of(&feed, None))
    });
    let mut answer = made.await?;
    answer
        .headers_mut()
        .insert(header::CACHE_CONTROL, header::HeaderValue::from_static("no-store"));
    Ok(answer)
}

fn too_many() -> ApiError {
    let detail = format!("you have {MOST_FEEDS} calendars; revoke one that is not in use any more");
    ApiError::Conflict { code: "too_many_feeds", detail }
}

/// What stands in the address: 192 bits of chance.
fn shown() -> Result<String, ApiError> {
    let mut bytes = [0_u8; 24];
    getrandom::fill(&mut bytes).map_err(|error| ApiError::Internal(error.to_string()))?;
    Ok(format!("{PREFIX}{}", URL_SAFE_NO_PAD.encode(bytes)))
}
