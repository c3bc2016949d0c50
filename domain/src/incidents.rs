//! What happens to a bow and is worse than shooting.

use jiff::Timestamp;

use crate::{
    ids::{BowId, IncidentId, MemberId},
    text::Note,
    words::words,
};

words! {
    /// What happened.
    pub enum IncidentKind {
        /// Loosed without an arrow, or the arrow broke at the nock.
        DryFire = "dry_fire",
        /// A strand of the string or a cable was cut or broke.
        StrandCut = "strand_cut",
        /// The bow got soaked.
        Soaked = "soaked",
        /// The bow lay in the heat.
        Overheated = "overheated",
        /// A limb was damaged.
        LimbDamage = "limb_damage",
        /// Anything else.
        Other = "other",
    }
}

impl IncidentKind {
    /// Whether the bow must not be shot until somebody competent has looked at it. Common practice,
    /// no source.
    #[must_use]
    pub const fn forbids_shooting(self) -> bool {
        matches!(self, Self::DryFire | Self::StrandCut | Self::LimbDamage)
    }

    /// How it is called in a sentence.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::DryFire => "dry fire",
            Self::StrandCut => "cut strand",
            Self::Soaked => "soaking",
            Self::Overheated => "overheating",
            Self::LimbDamage => "limb damage",
            Self::Other => "incident",
        }
    }
}

/// Something that happened to a bow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Incident {
    /// Which incident.
    pub id: IncidentId,
    /// To which bow.
    pub bow_id: BowId,
    /// What.
    pub kind: IncidentKind,
    /// When.
    pub at: Timestamp,
    /// Anything worth knowing.
    pub note: Note,
    /// Who entered it.
    pub entered_by: MemberId,
    /// When it reached us.
    pub received_at: Timestamp,
}
