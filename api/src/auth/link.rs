//! Links that were mailed, as they come back: opened and looked up. The API refuses them alike whatever is
//! wrong; a page says more to whoever holds one of ours. It knows no words of a page.

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
    /// One that was sent as a form.
    pub(crate) fn of(password: &str) -> Self {
        Self { password: password.to_owned() }
    }

    /// The password, if it may be one.
    pub(crate) fn parse(self) -> Result<String, ApiError> {
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

/// A link on record, with its club and whom it was mailed to.
pub(crate) struct Found {
    pub(crate) club: Club,
    pub(crate) member: Member,
    pub(crate) link: Link,
    /// Whether they have a password.
    pub(crate) joined: bool,
}

/// What a link comes to when it is followed.
pub(crate) enum Followed {
    /// It works now.
    Works(Box<Found>),
    /// It is one of ours, and does not work any more.
    Over(Box<Found>),
    /// It is none of ours, or is not on record any more: such a one had run out long before.
    Unknown,
}

/// What a link is for, if it works now.
pub(super) async fn find(api: &Api, purpose: Purpose, token: &str) -> Result<Found, ApiError> {
    match follow(api, purpose, token).await? {
        Followed::Works(found) => Ok(*found),
        Followed::Over(_) | Followed::Unknown => Err(DEAD.into()),
    }
}

/// Looks a link up. It changes nothing.
pub(crate) async fn follow(api: &Api, purpose: Purpose, token: &str) -> Result<Followed, ApiError> {
    let Some((club, link)) = open_link(&api.seals, purpose, token) else {
        return Ok(Followed::Unknown);
    };
    let now = api.now();
    let followed = api.store.read(move |read| {
        let link = links::get(read, club, link)?;
        look_up(read, club, link, now)
    });
    match followed.await {
        Err(StoreError::NotFound { .. }) => Ok(Followed::Unknown),
        followed => Ok(followed?),
    }
}

fn look_up(
    read: &mut Read<'_>,
    club: ClubId,
    link: Link,
    now: Timestamp,
) -> Result<Followed, StoreError> {
    let member = store::members::get(read, club, link.member)?;
    let joined = store::access::password_hash(read, club, link.member)?.is_some();
    // Who has joined is invited no more, and who has not has no password to change.
    let fits = joined == (link.purpose == Purpose::Reset);
    let works = link.works(now) && fits && member.left_at.is_none();
    let found = Box::new(Found { club: store::clubs::get(read, club)?, member, link, joined });
    Ok(if works { Followed::Works(found) } else { Followed::Over(found) })
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
