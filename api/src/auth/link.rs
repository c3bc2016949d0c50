//! Links that were mailed, as they come back: opened, looked up, and refused alike whatever is wrong.

use domain::{
    clubs::Club,
    ids::ClubId,
    links::{Link, Purpose},
    members::Member,
};
use jiff::Timestamp;
use serde::Deserialize;
use store::{Read, StoreError, links};
use utoipa::ToSchema;

use super::{password::LENGTH, sealed::open_link};
use crate::{body::Body, error::ApiError, fields::Fields, server::Api};

/// A password to be.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewPassword {
    #[schema(example = "correct horse battery", min_length = 8, max_length = 256)]
    password: String,
}

impl NewPassword {
    fn parse(self) -> Result<String, ApiError> {
        let mut fields = Fields::default();
        let right = LENGTH.contains(&self.password.chars().count());
        if !right {
            fields.refuse("/password", "bad_length", "must have 8 to 256 characters");
        }
        fields.finish(right.then_some(self.password))
    }
}

/// What is said of a link that was used, ran out, was meant for something else, or never was ours.
pub(super) const DEAD: Dead = Dead;

/// A link that does not work.
pub(super) struct Dead;

impl From<Dead> for ApiError {
    fn from(_: Dead) -> Self {
        let detail = "this link does not work: it was used before, has run out, or is not whole; ask \
                      for another one";
        Self::NotFound(detail.to_owned())
    }
}

/// A link that works, with its club and whom it was mailed to.
pub(super) struct Found {
    pub(super) club: Club,
    pub(super) member: Member,
    pub(super) link: Link,
}

/// What a link is for, if it works now.
pub(super) async fn find(api: &Api, purpose: Purpose, token: &str) -> Result<Found, ApiError> {
    let (club, link) = open_link(&api.seals, purpose, token).ok_or(DEAD)?;
    let now = api.now();
    let found = api.store.read(move |read| {
        let link = links::get(read, club, link)?;
        look_up(read, club, link, now)
    });
    match found.await {
        Ok(Some(found)) => Ok(found),
        // One that is not on record any more had run out long before.
        Ok(None) | Err(StoreError::NotFound { .. }) => Err(DEAD.into()),
        Err(error) => Err(error.into()),
    }
}

fn look_up(
    read: &mut Read<'_>,
    club: ClubId,
    link: Link,
    now: Timestamp,
) -> Result<Option<Found>, StoreError> {
    let member = store::members::get(read, club, link.member)?;
    let joined = store::access::password_hash(read, club, link.member)?.is_some();
    // Who has joined is invited no more, and who has not has no password to change.
    let fits = joined == (link.purpose == Purpose::Reset);
    if !link.works(now) || !fits || member.left_at.is_some() {
        return Ok(None);
    }
    Ok(Some(Found { club: store::clubs::get(read, club)?, member, link }))
}

/// A link that works, and the password that was chosen by it.
pub(super) async fn chosen(
    api: &Api,
    purpose: Purpose,
    token: &str,
    Body(body, _once): Body<NewPassword>,
) -> Result<(Found, String), ApiError> {
    let password = body.parse()?;
    Ok((find(api, purpose, token).await?, password))
}
