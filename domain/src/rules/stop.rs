//! What forbids shooting: a finding or an incident, never a count; and what lifts it: a coach's or
//! owner's inspection with a reason, never time.

use jiff::Timestamp;

use crate::{incidents::IncidentKind, time::Zone, upkeep::Finding};

/// What a part must not be shot for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum StopCause {
    /// Found unsafe at an inspection.
    Finding(Finding),
    /// An incident of the bow that it was under, or came under before anybody looked at that bow.
    Incident(IncidentKind),
}

impl StopCause {
    /// How the cause is spelt, in the database and on the wire.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Finding(finding) => finding.as_str(),
            Self::Incident(kind) => kind.as_str(),
        }
    }

    /// How the cause is called in a sentence.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Finding(finding) => finding.label(),
            Self::Incident(kind) => kind.label(),
        }
    }
}

/// Why a part must not be shot; they sort by time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Stop {
    /// When.
    pub at: Timestamp,
    /// What it was.
    pub cause: StopCause,
}

impl Stop {
    /// Why, in words, with what would lift it.
    #[must_use]
    pub fn reason(&self, zone: &Zone) -> String {
        let (cause, on) = (self.cause.label(), zone.date_of(self.at));
        format!(
            "do not shoot: {cause} on {on}; a coach or owner inspects it and says why it may be shot \
             again"
        )
    }
}

/// Whether a part must not be shot now: the last of its causes since it was last cleared.
///
/// A clearing counts for what happened at its own time or before.
///
/// # Example
/// ```
/// use domain::{incidents::IncidentKind, rules::{Stop, StopCause, stop}, time::parse_instant};
/// let at = |text: &str| parse_instant(text).unwrap();
/// let dry_fire = Stop {
///     cause: StopCause::Incident(IncidentKind::DryFire),
///     at: at("2027-03-01T10:00:00Z"),
/// };
/// assert_eq!(stop(&[dry_fire], None), Some(dry_fire));
/// assert_eq!(stop(&[dry_fire], Some(at("2027-03-01T09:59:59Z"))), Some(dry_fire));
/// assert_eq!(stop(&[dry_fire], Some(at("2027-03-01T10:00:00Z"))), None);
/// ```
#[must_use]
pub fn stop(causes: &[Stop], cleared_at: Option<Timestamp>) -> Option<Stop> {
    let open = |cause: &&Stop| cleared_at.is_none_or(|cleared_at| cause.at > cleared_at);
    causes.iter().filter(open).max_by_key(|cause| cause.at).copied()
}
