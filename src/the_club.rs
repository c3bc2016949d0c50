//! The club that a command on the database is about, and who signs for it.

use domain::{
    clubs::Club,
    ids::ClubId,
    members::{Member, Role},
};
use store::{Read, StoreError};

/// Why it is not known which club is meant.
#[derive(Debug, thiserror::Error)]
pub(crate) enum ClubError {
    #[error("there is no club in this database yet")]
    None,
    #[error("there are several clubs in this database: name one with --club, of {0}")]
    Several(String),
    #[error("no club is called {0}")]
    Unknown(String),
    #[error("the club has no owner who could sign")]
    NoOwner,
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// The club of that name; without a name the only one there is.
pub(crate) fn the_club(read: &mut Read<'_>, name: Option<&str>) -> Result<Club, ClubError> {
    let ids = store::clubs::ids(read)?;
    let clubs = ids.into_iter().map(|id| store::clubs::get(read, id));
    let mut clubs = clubs.collect::<Result<Vec<Club>, _>>()?;
    if let Some(name) = name {
        let named = clubs.into_iter().find(|club| club.name.as_str() == name);
        return named.ok_or_else(|| ClubError::Unknown(name.to_owned()));
    }
    match (clubs.pop(), clubs.is_empty()) {
        (None, _) => Err(ClubError::None),
        (Some(club), true) => Ok(club),
        (Some(last), false) => {
            clubs.push(last);
            let names: Vec<String> = clubs.iter().map(|club| club.name.to_string()).collect();
            Err(ClubError::Several(names.join(", ")))
        }
    }
}

/// The owner who has been in the club longest, of those who have not left.
pub(crate) fn first_owner(read: &mut Read<'_>, club: ClubId) -> Result<Member, ClubError> {
    let members = store::members::all(read, club)?;
    let owners = members.into_iter().filter(|one| one.role == Role::Owner && one.left_at.is_none());
    owners.min_by_key(|owner| (owner.created_at, owner.id)).ok_or(ClubError::NoOwner)
}
