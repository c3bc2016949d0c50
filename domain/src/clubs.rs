//! A club: the tenant. Everything else belongs to exactly one.

use jiff::{Timestamp, civil};

use crate::{ids::ClubId, text::Name, time::Zone};

/// A club and the settings that all of its members share.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Club {
    /// Which club.
    pub id: ClubId,
    /// What it is called.
    pub name: Name,
    /// Where it shoots: dates are dates of this zone.
    pub zone: Zone,
    /// The local time of day at which a day's reminders go out.
    pub digest_at: civil::Time,
    /// Since when it is on record.
    pub created_at: Timestamp,
}

/// When a day's reminders go out unless a club says otherwise.
pub const DEFAULT_DIGEST_AT: civil::Time = civil::time(7, 30, 0, 0);
