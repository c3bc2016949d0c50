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
