//! How a person of a club is written.

use std::collections::BTreeSet;

use domain::{
    ids::{ClubId, MemberId},
    members::{AddressRefused, Member, Role},
    squads::Squad,
};
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use store::{Read, StoreError};
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use super::GuardianBody;
use crate::{openapi::one_of, quiet_hours::QuietHoursBody};

/// A person in a club.
#[derive(Serialize, ToSchema)]
pub(crate) struct MemberBody {
    pub(super) id: Uuid,
    #[schema(example = "Ilse Quillfeather")]
    name: String,
    #[schema(example = "ilse@club.example")]
    email: String,
    /// What a relay said of the address, if there is no such mailbox. No mail goes there until an address
    /// is set.
    email_refused: Option<EmailRefusedBody>,
    #[schema(example = "archer")]
    role: &'static str,
    /// Where they live; null means where the club shoots.
    #[schema(example = "Europe/Lisbon")]
    time_zone: Option<String>,
    /// When they want no mail that can wait; null means at the club's hours.
    quiet_hours: Option<QuietHoursBody>,
    /// Until when they are a minor; nothing else of their age is on record.
    #[schema(value_type = Option<String>, format = Date)]
    minor_until: Option<Date>,
    guardian: Option<GuardianBody>,
    /// The squads that they shoot in or coach.
    squad_ids: Vec<Uuid>,
    /// Whether they have chosen a password, and can sign in.
    joined: bool,
    /// When they left the club, if they did.
    #[schema(value_type = Option<String>, format = DateTime)]
    left_at: Option<Timestamp>,
    #[schema(value_type = String, format = DateTime)]
    created_at: Timestamp,
}

/// A relay said that there is no mailbox at an address.
#[derive(Serialize, ToSchema)]
pub(crate) struct EmailRefusedBody {
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// In its words.
    #[schema(example = "550 5.1.1 no such mailbox")]
    answer: String,
}

impl From<&AddressRefused> for EmailRefusedBody {
    fn from(refused: &AddressRefused) -> Self {
        Self { at: refused.at, answer: refused.answer.clone() }
    }
}

impl MemberBody {
    fn of(member: &Member, squads: &[Squad], joined: &BTreeSet<MemberId>) -> Self {
        let theirs = |squad: &&Squad| {
            squad.coaches.contains(&member.id) || squad.archers.contains(&member.id)
        };
        Self {
            id: member.id.0,
            name: member.name.to_string(),
            email: member.email.to_string(),
            email_refused: member.refused.as_ref().map(EmailRefusedBody::from),
            role: member.role.as_str(),
            time_zone: member.zone.as_ref().map(|zone| zone.name().to_owned()),
            quiet_hours: member.quiet.map(QuietHoursBody::from),
            minor_until: member.minor_until,
            guardian: member.guardian.as_ref().map(GuardianBody::from),
            squad_ids: squads.iter().filter(theirs).map(|squad| squad.id.0).collect(),
            joined: joined.contains(&member.id),
            left_at: member.left_at,
            created_at: member.created_at,
        }
    }

    /// One of them, as they are on record now.
    pub(crate) fn one(
        read: &mut Read<'_>,
        club: ClubId,
        member: &Member,
    ) -> Result<Self, StoreError> {
        let squads = store::squads::of_member(read, club, member.id)?;
        Ok(Self::of(member, &squads, &store::access::joined(read, club)?))
    }

    /// Several of them.
    pub(super) fn some(
        read: &mut Read<'_>,
        club: ClubId,
        members: &[Member],
    ) -> Result<Vec<Self>, StoreError> {
        let (squads, joined) =
            (store::squads::all(read, club)?, store::access::joined(read, club)?);
        Ok(members.iter().map(|member| Self::of(member, &squads, &joined)).collect())
    }
}

pub(super) fn roles() -> RefOr<Schema> {
    one_of(Role::ALL.iter().map(|role| role.as_str()))
}
