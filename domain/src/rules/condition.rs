//! What a part is now, in one word.

use crate::words::words;

words! {
    /// What a part is now. The order is the order of urgency: of several that hold, the first
    /// is the one to say.
    pub enum Condition {
        /// Its life is over.
        Retired = "retired",
        /// A finding or an incident forbids shooting it; a count alone never does.
        DoNotShoot = "do_not_shoot",
        /// At the limit for retiring, or past plan and grace where there is no such limit.
        Overdue = "overdue",
        /// At the limit planned for.
        Due = "due",
        /// Within the notice before the plan.
        Nearing = "nearing",
        /// Too new to be trusted.
        Settling = "settling",
        /// Nothing to do.
        Sound = "sound",
    }
}

impl Condition {
    /// Whether somebody should do something about it, now or soon.
    #[must_use]
    pub const fn wants_work(self) -> bool {
        matches!(self, Self::DoNotShoot | Self::Overdue | Self::Due | Self::Nearing)
    }

    /// How the condition is called in a sentence.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Retired => "retired",
            Self::DoNotShoot => "do not shoot",
            Self::Overdue => "overdue",
            Self::Due => "due",
            Self::Nearing => "due soon",
            Self::Settling => "settling in",
            Self::Sound => "sound",
        }
    }
}
