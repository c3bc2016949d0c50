//! What a refused change of a club's people is answered with.

use domain::membership::MembershipError;

use crate::{
    error::ApiError,
    fields::{Coded, FieldError},
};

impl Coded for MembershipError {
    fn code(&self) -> &'static str {
        match self {
            Self::AddressTaken => "address_taken",
            Self::AddressAlike => "address_alike",
            Self::LastOwner => "last_owner",
            Self::LeftAlready => "left_already",
            Self::JoinedAlready => "joined_already",
            Self::InvitedTooOften { .. } => "invited_too_often",
            Self::GuardianMissing => "guardian_missing",
            Self::MinorForTooLong => "out_of_range",
            Self::ConsentInFuture => "in_future",
        }
    }
}

impl From<MembershipError> for ApiError {
    fn from(error: MembershipError) -> Self {
        let (code, detail) = (error.code(), error.to_string());
        let pointer = match error {
            MembershipError::InvitedTooOften { wait } => {
                return Self::TooOften(wait.as_secs().unsigned_abs().max(1));
            }
            MembershipError::AddressTaken
            | MembershipError::AddressAlike
            | MembershipError::LastOwner
            | MembershipError::LeftAlready
            | MembershipError::JoinedAlready => return Self::Conflict { code, detail },
            MembershipError::GuardianMissing => "/guardian",
            MembershipError::MinorForTooLong => "/minor_until",
            MembershipError::ConsentInFuture => "/guardian/consented_on",
        };
        Self::Invalid(vec![FieldError::new(pointer, code, detail)])
    }
}
