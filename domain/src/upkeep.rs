//! Work done on a part.

use std::collections::BTreeMap;

use jiff::Timestamp;

use crate::{
    ids::{MemberId, PartId, UpkeepId},
    parts::PartKind,
    text::Note,
    words::words,
};

words! {
    /// A kind of work.
    pub enum UpkeepTask {
        /// Wax rubbed into the strands.
        Waxed = "waxed",
        /// Looked over.
        Inspected = "inspected",
        /// The serving cut off and a new one wound in its place.
        ReServed = "re_served",
        /// The nocking point measured and set.
        NockingPointSet = "nocking_point_set",
        /// The brace height measured and set.
        BraceHeightSet = "brace_height_set",
        /// Swapped for another part.
        Replaced = "replaced",
        /// Anything else.
        Other = "other",
    }
}

impl UpkeepTask {
    /// How the work is called after "since last".
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Waxed => "waxed",
            Self::Inspected => "inspected",
            Self::ReServed => "re-served",
            Self::NockingPointSet => "set",
            Self::BraceHeightSet => "braced",
            Self::Replaced => "replaced",
            Self::Other => "worked on",
        }
    }
}

words! {
    /// What is looked for at an inspection.
    pub enum Finding {
        /// The serving has come apart from the strands.
        ServingSeparation = "serving_separation",
        /// The serving has slid along the string.
        ServingSlipped = "serving_slipped",
        /// The served area is flat above or below the nocks.
        FlatServing = "flat_serving",
        /// Nocks sit loose.
        LooseNockFit = "loose_nock_fit",
        /// Nocks sit tight.
        TightNockFit = "tight_nock_fit",
        /// The strands are dry.
        DryStrands = "dry_strands",
        /// The strands are fuzzy.
        FuzzyStrands = "fuzzy_strands",
        /// The strands have lost colour in places.
        UnevenColour = "uneven_colour",
        /// A strand is cut or broken.
        CutStrand = "cut_strand",
        /// A loop is worn, or a strand has pulled out of it.
        LoopWear = "loop_wear",
        /// A limb is cracked, twisted or comes apart.
        LimbDamage = "limb_damage",
        /// A limb tip is worn, grooved or split.
        TipWear = "tip_wear",
        /// A cam, axle or wheel is bent or runs unevenly.
        CamDamage = "cam_damage",
        /// The nocking point has moved or come loose.
        NockingPointMoved = "nocking_point_moved",
        /// The D-loop is worn or has slipped.
        DLoopWear = "d_loop_wear",
        /// The peep has turned or moved, or its tube is cracked.
        PeepMoved = "peep_moved",
        /// The rest is worn, bent or loose.
        RestWear = "rest_wear",
        /// The plunger sticks or its tip is worn.
        PlungerWear = "plunger_wear",
        /// Anything else.
        Other = "other",
    }
}

impl Finding {
    /// How it is called in a sentence.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::ServingSeparation => "serving separation",
            Self::ServingSlipped => "serving slipped",
            Self::FlatServing => "flat serving",
            Self::LooseNockFit => "loose nock fit",
            Self::TightNockFit => "tight nock fit",
            Self::DryStrands => "dry strands",
            Self::FuzzyStrands => "fuzzy strands",
            Self::UnevenColour => "uneven colour",
            Self::CutStrand => "cut strand",
            Self::LoopWear => "loop wear",
            Self::LimbDamage => "limb damage",
            Self::TipWear => "worn limb tip",
            Self::CamDamage => "cam damage",
            Self::NockingPointMoved => "nocking point moved",
            Self::DLoopWear => "worn D-loop",
            Self::PeepMoved => "peep moved",
            Self::RestWear => "worn rest",
            Self::PlungerWear => "worn plunger",
            Self::Other => "finding",
        }
    }
}

impl Finding {
    /// What is looked for, in a plain phrase of the trade. Common practice, no source.
    #[must_use]
    pub const fn phrase(self) -> &'static str {
        match self {
            Self::ServingSeparation => "serving come apart, so that the strands show through",
            Self::ServingSlipped => "serving slid along the string",
            Self::FlatServing => "served area flattened above or below the nocks",
            Self::LooseNockFit => "nocks sit loose and do not hold the arrow",
            Self::TightNockFit => "nocks sit tight and do not come off with a light tap",
            Self::DryStrands => "strands dry, without wax",
            Self::FuzzyStrands => "strands fuzzy",
            Self::UnevenColour => "strands pale or uneven in colour where they rub",
            Self::CutStrand => "strand cut or broken",
            Self::LoopWear => "loop worn, or a strand pulled out of it",
            Self::LimbDamage => "limb cracked, twisted or coming apart",
            Self::TipWear => "limb tip worn, grooved or split",
            Self::CamDamage => "cam, axle or wheel bent, nicked or running unevenly",
            Self::NockingPointMoved => "nocking point moved or come loose",
            Self::DLoopWear => "D-loop worn, or slipped",
            Self::PeepMoved => "peep turned or moved, or its tube cracked",
            Self::RestWear => "rest worn, bent or loose",
            Self::PlungerWear => "plunger sticking, or its tip worn",
            Self::Other => "anything else that is not as it was",
        }
    }
}

/// How bad a finding is. Common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// Looked for, and not there.
    None = 0,
    /// Light: nothing to do.
    Light = 1,
    /// Marked: to be mended soon.
    Marked = 2,
    /// Unsafe: not to be shot.
    Unsafe = 3,
}

impl Grade {
    /// Every grade, the best first.
    pub const ALL: [Self; 4] = [Self::None, Self::Light, Self::Marked, Self::Unsafe];

    /// How the grade is called.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Light => "light",
            Self::Marked => "marked",
            Self::Unsafe => "unsafe",
        }
    }

    /// What follows from it. Common practice, no source.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::None => "looked for, and not there",
            Self::Light => "nothing to do",
            Self::Marked => "mend it soon",
            Self::Unsafe => "do not shoot",
        }
    }

    /// The grade of a number from 0 to 3.
    #[must_use]
    pub const fn new(grade: i64) -> Option<Self> {
        match grade {
            0 => Some(Self::None),
            1 => Some(Self::Light),
            2 => Some(Self::Marked),
            3 => Some(Self::Unsafe),
            _ => None,
        }
    }

    /// Its number.
    #[must_use]
    pub const fn number(self) -> i32 {
        self as i32
    }
}

/// Why what was found or measured was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum UpkeepError {
    /// Findings belong to an inspection.
    #[error("goes only with the task inspected")]
    NotInspected,
    /// The same thing was named twice.
    #[error("was named before; each finding once")]
    FoundTwice,
    /// Not a grade.
    #[error("must be 0 (none), 1 (light), 2 (marked) or 3 (unsafe)")]
    Grade,
    /// It went with a part being taken off and another one fitted.
    #[error("went with other parts being fitted; put the fittings right instead")]
    GoesWithFittings,
    /// Nothing is measured at this work.
    #[error("goes only with the tasks nocking_point_set and brace_height_set")]
    NotMeasured,
    /// Not looked for on a part of that kind.
    #[error("a part of the kind {} is looked over for {}", .0, looked_over_for(*.0))]
    WrongFinding(PartKind),
    /// Not done on a part of that kind.
    #[error("is not done on a part of the kind {0}")]
    WrongTask(PartKind),
    /// No bow's brace height, or no nocking point, is there.
    #[error("must be between {least} and {most} mm")]
    OutOfRange {
        /// The least that it can be.
        least: i16,
        /// The most that it can be.
        most: i16,
    },
}

/// What a part of a kind is looked over for, as the words are spelt.
fn looked_over_for(kind: PartKind) -> String {
    let words: Vec<&str> = kind.looked_over_for().iter().map(|finding| finding.as_str()).collect();
    words.join(", ")
}

/// Passes what is looked for on parts of a kind.
///
/// # Errors
/// [`UpkeepError::WrongFinding`].
///
/// # Example
/// ```
/// use domain::{parts::PartKind, upkeep::{Finding, UpkeepError, looked_for}};
/// assert_eq!(looked_for(Finding::CutStrand, PartKind::Bowstring), Ok(()));
/// let refused = looked_for(Finding::CamDamage, PartKind::Peep);
/// assert_eq!(refused, Err(UpkeepError::WrongFinding(PartKind::Peep)));
/// ```
pub fn looked_for(finding: Finding, on: PartKind) -> Result<(), UpkeepError> {
    let known = on.looked_over_for().contains(&finding);
    if known { Ok(()) } else { Err(UpkeepError::WrongFinding(on)) }
}

impl UpkeepTask {
    /// Whether the work is done on parts of a kind. Common practice, no source.
    #[must_use]
    pub const fn fits(self, kind: PartKind) -> bool {
        use PartKind::{Bowstring, Cable, CenterServing, EndServing, NockingPoint};
        match self {
            Self::Waxed => matches!(kind, Bowstring | Cable),
            Self::ReServed => matches!(kind, CenterServing | EndServing),
            Self::NockingPointSet => matches!(kind, Bowstring | NockingPoint),
            Self::BraceHeightSet => matches!(kind, Bowstring),
            Self::Inspected | Self::Replaced | Self::Other => true,
        }
    }

    /// Passes work that is done on parts of a kind.
    ///
    /// # Errors
    /// [`UpkeepError::WrongTask`].
    ///
    /// # Example
    /// ```
    /// use domain::{parts::PartKind, upkeep::{UpkeepError, UpkeepTask}};
    /// assert_eq!(UpkeepTask::Waxed.done_on(PartKind::Cable), Ok(()));
    /// let refused = UpkeepTask::Waxed.done_on(PartKind::Limbs);
    /// assert_eq!(refused, Err(UpkeepError::WrongTask(PartKind::Limbs)));
    /// ```
    pub const fn done_on(self, kind: PartKind) -> Result<(), UpkeepError> {
        if self.fits(kind) { Ok(()) } else { Err(UpkeepError::WrongTask(kind)) }
    }

    /// Takes what was measured in millimetres: a nocking point above square or, below zero, below it;
    /// or a brace height. The bounds are wide, and there to catch slips; common practice, no source.
    ///
    /// # Errors
    /// [`UpkeepError::NotMeasured`], [`UpkeepError::OutOfRange`].
    ///
    /// # Example
    /// ```
    /// use domain::upkeep::{UpkeepError, UpkeepTask};
    /// assert_eq!(UpkeepTask::BraceHeightSet.measured(220.0), Ok(220.0));
    /// // In inches by mistake.
    /// assert!(UpkeepTask::BraceHeightSet.measured(8.75).is_err());
    /// assert_eq!(UpkeepTask::Waxed.measured(1.0), Err(UpkeepError::NotMeasured));
    /// ```
    pub fn measured(self, length_mm: f64) -> Result<f64, UpkeepError> {
        let (least, most) = match self {
            Self::NockingPointSet => (-100, 100),
            Self::BraceHeightSet => (100, 400),
            _ => return Err(UpkeepError::NotMeasured),
        };
        if (f64::from(least)..=f64::from(most)).contains(&length_mm) {
            Ok(length_mm)
        } else {
            Err(UpkeepError::OutOfRange { least, most })
        }
    }
}

/// A piece of work done on a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Upkeep {
    /// Which piece of work.
    pub id: UpkeepId,
    /// On what.
    pub part_id: PartId,
    /// What was done.
    pub task: UpkeepTask,
    /// When.
    pub at: Timestamp,
    /// What was found, where it was an inspection; each thing once.
    pub findings: BTreeMap<Finding, Grade>,
    /// What was measured in millimetres: the brace height, or the nocking point above square.
    pub measured_mm: Option<f64>,
    /// It was an inspection by a coach or owner who gave a reason: what forbade shooting is lifted.
    pub clears: bool,
    /// Anything worth knowing.
    pub note: Note,
    /// Who entered it.
    pub entered_by: MemberId,
    /// When it reached us.
    pub received_at: Timestamp,
}

impl Upkeep {
    /// Work of which nothing was measured, found or cleared.
    #[must_use]
    pub fn new(
        id: UpkeepId,
        part_id: PartId,
        task: UpkeepTask,
        at: Timestamp,
        entered_by: MemberId,
    ) -> Self {
        Self {
            id,
            part_id,
            task,
            at,
            findings: BTreeMap::new(),
            measured_mm: None,
            clears: false,
            note: Note::default(),
            entered_by,
            received_at: at,
        }
    }

    /// Passes work that can be taken off the record by itself.
    ///
    /// # Errors
    /// [`UpkeepError::GoesWithFittings`]: other parts were fitted with it.
    pub const fn stands_alone(&self) -> Result<(), UpkeepError> {
        match self.task {
            UpkeepTask::ReServed | UpkeepTask::Replaced => Err(UpkeepError::GoesWithFittings),
            _ => Ok(()),
        }
    }

    /// The worst that was found.
    #[must_use]
    pub fn worst(&self) -> Option<(Finding, Grade)> {
        self.findings.iter().map(|(&finding, &grade)| (finding, grade)).max_by_key(|one| one.1)
    }

    /// The same work, judged by who did it: an inspection lifts what forbade shooting if they look
    /// after others' bows, gave a reason, and found nothing unsafe.
    #[must_use]
    pub fn judged_by(self, looks_after_others: bool) -> Self {
        let safe = self.worst().is_none_or(|(_, grade)| grade < Grade::Unsafe);
        let reason = !self.note.as_str().is_empty();
        let clears = self.task == UpkeepTask::Inspected && looks_after_others && reason && safe;
        Self { clears, ..self }
    }
}
