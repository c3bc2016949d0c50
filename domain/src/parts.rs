//! What wears and can be swapped, and how its life ends.

use jiff::{Timestamp, civil};

use crate::{
    fittings::Fitting,
    ids::PartId,
    ledger::Clock,
    text::Name,
    upkeep::{Finding, UpkeepTask},
    words::words,
};

words! {
    /// What a part is.
    pub enum PartKind {
        /// A bowstring.
        Bowstring = "string",
        /// A cable of a compound.
        Cable = "cable",
        /// The serving where arrows are nocked.
        CenterServing = "center_serving",
        /// A serving at a loop or cam.
        EndServing = "end_serving",
        /// The mark that fixes the arrow's height.
        NockingPoint = "nocking_point",
        /// The loop a release aid clips to.
        DLoop = "d_loop",
        /// The peep sight in a string.
        Peep = "peep",
        /// The cams or wheels of a compound.
        Cams = "cams",
        /// A pair of limbs.
        Limbs = "limbs",
        /// The arrow rest.
        Rest = "rest",
        /// The cushion plunger.
        Plunger = "plunger",
        /// Anything else that wears.
        Other = "other",
    }
}

impl PartKind {
    /// How the part is called in a sentence.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Bowstring => "string",
            Self::Cable => "cable",
            Self::CenterServing => "center serving",
            Self::EndServing => "end serving",
            Self::NockingPoint => "nocking point",
            Self::DLoop => "D-loop",
            Self::Peep => "peep",
            Self::Cams => "cams",
            Self::Limbs => "limbs",
            Self::Rest => "rest",
            Self::Plunger => "plunger",
            Self::Other => "part",
        }
    }

    /// Whether it lives on a string or cable rather than on the bow itself.
    #[must_use]
    pub const fn rides_on_string(self) -> bool {
        matches!(
            self,
            Self::CenterServing | Self::EndServing | Self::NockingPoint | Self::DLoop | Self::Peep
        )
    }

    /// Whether a host can have only one of the kind at a time.
    #[must_use]
    pub const fn one_at_a_time(self) -> bool {
        !matches!(self, Self::Cable | Self::EndServing | Self::Other)
    }

    /// What a part of this kind is looked over for at an inspection, in the order in which it is looked
    /// for. Common practice, no source.
    #[must_use]
    pub const fn looked_over_for(self) -> &'static [Finding] {
        use Finding::{
            CamDamage, CutStrand, DLoopWear, DryStrands, FlatServing, FuzzyStrands, LimbDamage,
            LoopWear, LooseNockFit, NockingPointMoved, Other, PeepMoved, PlungerWear, RestWear,
            ServingSeparation, ServingSlipped, TightNockFit, TipWear, UnevenColour,
        };
        match self {
            Self::Bowstring | Self::Cable => {
                &[CutStrand, LoopWear, FuzzyStrands, DryStrands, UnevenColour, Other]
            }
            Self::CenterServing => {
                &[ServingSeparation, ServingSlipped, FlatServing, LooseNockFit, TightNockFit, Other]
            }
            Self::EndServing => &[ServingSeparation, ServingSlipped, Other],
            Self::NockingPoint => &[NockingPointMoved, LooseNockFit, TightNockFit, Other],
            Self::DLoop => &[DLoopWear, Other],
            Self::Peep => &[PeepMoved, ServingSeparation, Other],
            Self::Cams => &[CamDamage, Other],
            Self::Limbs => &[LimbDamage, TipWear, Other],
            Self::Rest => &[RestWear, Other],
            Self::Plunger => &[PlungerWear, Other],
            Self::Other => &[Other],
        }
    }

    /// What is counted for parts of this kind: their life, and the shots since each kind of work
    /// that is done on them again and again.
    #[must_use]
    pub const fn clocks(self) -> &'static [Clock] {
        match self {
            Self::Bowstring => &[
                Clock::Life,
                Clock::Since(UpkeepTask::Waxed),
                Clock::Since(UpkeepTask::Inspected),
                Clock::Since(UpkeepTask::NockingPointSet),
                Clock::Since(UpkeepTask::BraceHeightSet),
            ],
            Self::Cable => {
                &[Clock::Life, Clock::Since(UpkeepTask::Waxed), Clock::Since(UpkeepTask::Inspected)]
            }
            Self::NockingPoint => &[
                Clock::Life,
                Clock::Since(UpkeepTask::NockingPointSet),
                Clock::Since(UpkeepTask::Inspected),
            ],
            _ => &[Clock::Life, Clock::Since(UpkeepTask::Inspected)],
        }
    }
}

words! {
    /// How a part's life ended. The five are kept apart because a life study needs them apart.
    pub enum End {
        /// The limit was reached and the part was in good order.
        ByPolicy = "by_policy",
        /// Retired on visible wear.
        Worn = "worn",
        /// Found bad at an inspection: it failed between the last good one and now.
        FoundBad = "found_bad",
        /// Broke.
        Broke = "broke",
        /// Lost, sold or given away.
        Lost = "lost",
    }
}

impl End {
    /// How it is called in a sentence.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::ByPolicy => "by policy",
            Self::Worn => "worn",
            Self::FoundBad => "found bad",
            Self::Broke => "broke",
            Self::Lost => "lost",
        }
    }
}

/// The end of a part's life.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Retirement {
    /// When.
    pub at: Timestamp,
    /// How.
    pub end: End,
    /// Why, in somebody's words.
    pub reason: Name,
}

/// Shots a part had before its shots were logged here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Start {
    /// How many.
    pub shots: u32,
    /// From when on the ledger counts; older logs are within `shots` already.
    pub at: Timestamp,
}

/// Why a change to a part was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PartError {
    /// It is retired already.
    #[error("the part was retired on {at}")]
    Retired {
        /// When.
        at: Timestamp,
    },
    /// Its life would be over while it was, by what is on record, still fitted or not yet.
    #[error("must not lie before the last fitting of the part, or of one to it, of {at}")]
    BeforeLastFitting {
        /// When that fitting ended, or began if it goes on.
        at: Timestamp,
    },
    /// More strands than any string has, or none.
    #[error("must be a strand count between 2 and 100")]
    Strands,
    /// More shots than a part can have had.
    #[error("must be a count between 0 and 1000000")]
    StartingShots,
    /// Not an amount of money with two decimals.
    #[error("must be an amount between 0 and 1000000 with at most two decimals")]
    UnitCost,
}

/// What a part cost: hundredths of the club's currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cost(i64);

impl Cost {
    /// From an amount in the club's currency.
    ///
    /// # Errors
    /// [`PartError::UnitCost`] when negative, above a million, or finer than a hundredth.
    ///
    /// # Example
    /// ```
    /// use domain::parts::{Cost, PartError};
    /// assert_eq!(Cost::from_amount(18.5)?.hundredths(), 1_850);
    /// assert_eq!(Cost::from_amount(0.001), Err(PartError::UnitCost));
    /// # Ok::<(), PartError>(())
    /// ```
    pub fn from_amount(amount: f64) -> Result<Self, PartError> {
        let hundredths = (amount * 100.0).round();
        let fine = (amount * 100.0 - hundredths).abs() > 1e-6;
        if !(0.0..=1e8).contains(&hundredths) || fine {
            return Err(PartError::UnitCost);
        }
        #[expect(clippy::cast_possible_truncation, reason = "checked to lie within 0..=1e8")]
        Ok(Self(hundredths as i64))
    }

    /// From hundredths, as kept.
    #[must_use]
    pub const fn from_hundredths(hundredths: i64) -> Self {
        Self(hundredths)
    }

    /// The amount in hundredths.
    #[must_use]
    pub const fn hundredths(self) -> i64 {
        self.0
    }

    /// The amount in the club's currency.
    #[must_use]
    pub fn amount(self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "at most 1e8, far below 2^53")]
        let hundredths = self.0 as f64;
        hundredths / 100.0
    }
}

/// A part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Which part.
    pub id: PartId,
    /// What it is.
    pub kind: PartKind,
    /// What its people call it.
    pub name: Name,
    /// What it is made of.
    pub material: Option<Name>,
    /// Of how many strands.
    pub strands: Option<u16>,
    /// When it was made.
    pub made_on: Option<civil::Date>,
    /// What it had before logging began.
    pub start: Option<Start>,
    /// What it cost.
    pub unit_cost: Option<Cost>,
    /// How its life ended, if it did.
    pub retirement: Option<Retirement>,
    /// Since when it is on record.
    pub created_at: Timestamp,
}

impl Part {
    /// Ends the part's life; `stays` are all its fittings. One that goes on is ended by it.
    ///
    /// # Errors
    /// [`PartError::Retired`] when it is over already, [`PartError::BeforeLastFitting`] when a
    /// fitting ended later, or goes on and began no earlier.
    pub fn retire(self, retirement: Retirement, stays: &[Fitting]) -> Result<Self, PartError> {
        self.in_use()?;
        let contradicts = |stay: &&Fitting| match stay.to {
            Some(to) => retirement.at < to,
            None => retirement.at <= stay.from,
        };
        let known = |stay: &Fitting| stay.to.unwrap_or(stay.from);
        match stays.iter().filter(contradicts).map(known).max() {
            Some(at) => Err(PartError::BeforeLastFitting { at }),
            None => Ok(Self { retirement: Some(retirement), ..self }),
        }
    }

    /// The end of a serving that is wound anew at `at`: planned work, in good order.
    #[must_use]
    pub fn re_served(&self, at: Timestamp) -> Retirement {
        Retirement { at, end: End::ByPolicy, reason: Name::of_ours("re-served") }
    }

    /// Passes a part that is not retired.
    ///
    /// # Errors
    /// [`PartError::Retired`].
    pub fn in_use(&self) -> Result<(), PartError> {
        match &self.retirement {
            Some(retirement) => Err(PartError::Retired { at: retirement.at }),
            None => Ok(()),
        }
    }

    /// The part that takes this one's place when it is made anew in the same way: a fresh serving
    /// of the same kind, material and strands, with nothing shot.
    #[must_use]
    pub fn successor(&self, id: PartId, made_on: civil::Date, created_at: Timestamp) -> Self {
        Self {
            id,
            made_on: Some(made_on),
            start: None,
            retirement: None,
            created_at,
            ..self.clone()
        }
    }
}

/// Takes a strand count.
///
/// # Errors
/// [`PartError::Strands`] outside 2 to 100.
pub fn strands(count: i64) -> Result<u16, PartError> {
    match u16::try_from(count) {
        Ok(count @ 2..=100) => Ok(count),
        _ => Err(PartError::Strands),
    }
}

/// Takes a count of shots from before logging began.
///
/// # Errors
/// [`PartError::StartingShots`] outside 0 to 1,000,000.
pub fn starting_shots(count: i64) -> Result<u32, PartError> {
    match u32::try_from(count) {
        Ok(count @ 0..=1_000_000) => Ok(count),
        _ => Err(PartError::StartingShots),
    }
}

#[cfg(test)]
impl Part {
    /// A part of which nothing is known but its kind.
    pub(crate) fn bare(kind: PartKind) -> Self {
        Self {
            id: PartId(uuid::Uuid::nil()),
            kind,
            name: Name::of_ours("a part"),
            material: None,
            strands: None,
            made_on: None,
            start: None,
            unit_cost: None,
            retirement: None,
            created_at: Timestamp::UNIX_EPOCH,
        }
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::{
        fittings::Host,
        ids::{BowId, FittingId},
    };

    fn at(day: i64) -> Timestamp {
        Timestamp::from_second(day * 86_400).unwrap()
    }

    fn string() -> Part {
        Part::bare(PartKind::Bowstring)
    }

    fn check(stays: &[(i64, Option<i64>)], day: i64, refused_for: Option<i64>) {
        let stay = |&(from, to): &(i64, Option<i64>)| Fitting {
            id: FittingId(Uuid::nil()),
            part_id: string().id,
            host: Host::Bow(BowId(Uuid::nil())),
            from: at(from),
            to: to.map(at),
            version: 1,
        };
        let stays: Vec<Fitting> = stays.iter().map(stay).collect();
        let end = Retirement { at: at(day), end: End::Worn, reason: Name::of_ours("frayed") };
        let retired = string().retire(end.clone(), &stays);
        match refused_for {
            Some(day) => assert_eq!(retired, Err(PartError::BeforeLastFitting { at: at(day) })),
            None => assert_eq!(retired.map(|part| part.retirement), Ok(Some(end))),
        }
    }

    #[test]
    fn a_part_is_retired_once_and_not_before_its_last_fitting() {
        check(&[], 1, None);
        check(&[(10, Some(20))], 20, None);
        check(&[(10, Some(20))], 19, Some(20));
        check(&[(10, Some(20))], 5, Some(20));
        check(&[(10, Some(20)), (30, None)], 31, None);
        check(&[(10, Some(20)), (30, None)], 30, Some(30));
        check(&[(10, Some(20)), (30, None)], 25, Some(30));
        let end = Retirement { at: at(3), end: End::Worn, reason: Name::of_ours("frayed") };
        let retired = string().retire(end.clone(), &[]).unwrap();
        assert_eq!(retired.retire(end, &[]), Err(PartError::Retired { at: at(3) }));
    }
}
