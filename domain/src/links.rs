//! Links that are mailed to somebody and work once.

use jiff::{SignedDuration, Timestamp};

use crate::{
    ids::{LinkId, MemberId},
    words::words,
};

words! {
    /// What a link is for. One made for one purpose is never taken for another.
    pub enum Purpose {
        /// To join a club: choose a password for the first time.
        Invitation = "invitation",
        /// To choose another password.
        Reset = "reset",
    }
}

impl Purpose {
    /// How long a link works.
    #[must_use]
    pub const fn lifetime(self) -> SignedDuration {
        match self {
            Self::Invitation => SignedDuration::from_hours(14 * 24),
            Self::Reset => SignedDuration::from_hours(2),
        }
    }
}

/// A link that works once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Link {
    /// Which link.
    pub id: LinkId,
    /// For whom.
    pub member: MemberId,
    /// What for.
    pub purpose: Purpose,
    /// Since when it works.
    pub created_at: Timestamp,
    /// From when on it does not.
    pub expires_at: Timestamp,
    /// When it was used, if it was.
    pub used_at: Option<Timestamp>,
}

impl Link {
    /// A link that works from now on.
    #[must_use]
    pub fn new(id: LinkId, member: MemberId, purpose: Purpose, now: Timestamp) -> Self {
        let expires_at = now.saturating_add(purpose.lifetime()).unwrap_or(now);
        Self { id, member, purpose, created_at: now, expires_at, used_at: None }
    }

    /// Whether it works at a moment.
    #[must_use]
    pub fn works(&self, now: Timestamp) -> bool {
        self.used_at.is_none() && now < self.expires_at
    }
}
