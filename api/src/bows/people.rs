//! The people of a bow, as a body names them.

use domain::{bows::Bow, ids::MemberId};
use store::{Read, StoreError};

use crate::{auth::SignedIn, error::ApiError, fields::FieldError};

/// Who has to do with a bow, each with the place of the field that names them.
pub(super) type People = [(&'static str, Option<MemberId>); 3];

/// The people of a bow.
pub(super) const fn of(bow: &Bow) -> People {
    [
        ("/owner_member_id", bow.owner),
        ("/archer_member_id", bow.archer),
        ("/keeper_member_id", bow.keeper),
    ]
}

/// Passes people who are members of the club now.
pub(super) fn check(read: &mut Read<'_>, who: SignedIn, people: &People) -> Result<(), ApiError> {
    let mut errors = Vec::new();
    for (pointer, member) in people {
        let Some(member) = member else { continue };
        let found = match store::members::get(read, who.club, *member) {
            Ok(member) => member.left_at.is_none(),
            Err(StoreError::NotFound { .. }) => false,
            Err(error) => return Err(error.into()),
        };
        if !found {
            let detail = "must be a member of your club";
            errors.push(FieldError::new(pointer, "unknown_member", detail));
        }
    }
    if errors.is_empty() { Ok(()) } else { Err(ApiError::Invalid(errors)) }
}
