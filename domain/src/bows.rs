//! One set-up bow, and who has to do with it.

use jiff::Timestamp;

use crate::{
    ids::{BowId, MemberId},
    parts::PartKind,
    text::Name,
    words::words,
};

words! {
    /// The division a bow is set up for.
    pub enum Division {
        /// Recurve with sight and stabilisers.
        Recurve = "recurve",
        /// Compound.
        Compound = "compound",
        /// Recurve without sight.
        Barebow = "barebow",
        /// Longbow.
        Longbow = "longbow",
        /// Traditional recurve or horse bow.
        Traditional = "traditional",
    }
}

impl Division {
    /// Whether bows of the division have such a part. Cables, cams, peep and D-loop belong to compounds;
    /// common practice, no source.
    #[must_use]
    pub const fn has(self, kind: PartKind) -> bool {
        use PartKind::{Cable, Cams, DLoop, Peep};
        matches!(self, Self::Compound) || !matches!(kind, Cable | Cams | DLoop | Peep)
    }

    /// The kinds of part without which a bow of the division is not ready to be shot. Common practice, no
    /// source.
    #[must_use]
    pub const fn needs(self) -> &'static [PartKind] {
        use PartKind::{Bowstring, Cable, Cams, CenterServing, DLoop, Peep};
        match self {
            Self::Compound => &[Bowstring, CenterServing, Cable, Cams, Peep, DLoop],
            Self::Recurve | Self::Barebow | Self::Longbow | Self::Traditional => {
                &[Bowstring, CenterServing]
            }
        }
    }

    /// Those of them that are not among the parts under a bow.
    ///
    /// # Example
    /// ```
    /// use domain::{bows::Division, parts::PartKind};
    /// let under = [PartKind::Bowstring, PartKind::Rest];
    /// assert_eq!(Division::Longbow.lacks(&under), [PartKind::CenterServing]);
    /// ```
    #[must_use]
    pub fn lacks(self, under: &[PartKind]) -> Vec<PartKind> {
        self.needs().iter().copied().filter(|kind| !under.contains(kind)).collect()
    }
}

/// Why a bow's measure was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum BowError {
    /// A length no bow has.
    #[error("must be a bow length between 24 and 90 inches")]
    Length,
    /// A draw weight no bow has.
    #[error("must be a draw weight between 1 and 200 pounds-force")]
    DrawWeight,
}

/// A bow length in inches: what the maker prints on the limbs, not the length of the string.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct BowLengthIn(f64);

impl BowLengthIn {
    /// Takes a length in inches.
    ///
    /// # Errors
    /// [`BowError::Length`] outside 24 to 90 in.
    pub fn new(length_in: f64) -> Result<Self, BowError> {
        if (24.0..=90.0).contains(&length_in) { Ok(Self(length_in)) } else { Err(BowError::Length) }
    }

    /// The length in inches.
    #[must_use]
    pub fn get(self) -> f64 {
        self.0
    }
}

/// A draw weight in pounds-force.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct DrawWeightLbf(f64);

impl DrawWeightLbf {
    /// Takes a draw weight in pounds-force.
    ///
    /// # Errors
    /// [`BowError::DrawWeight`] outside 1 to 200 lbf.
    pub fn new(weight_lbf: f64) -> Result<Self, BowError> {
        if (1.0..=200.0).contains(&weight_lbf) {
            Ok(Self(weight_lbf))
        } else {
            Err(BowError::DrawWeight)
        }
    }

    /// The draw weight in pounds-force.
    #[must_use]
    pub fn get(self) -> f64 {
        self.0
    }
}

/// A bow. Its shots are never kept here: they are a sum over the ledger.
#[derive(Debug, Clone, PartialEq)]
pub struct Bow {
    /// Which bow.
    pub id: BowId,
    /// What its people call it.
    pub name: Name,
    /// What it is set up for.
    pub division: Division,
    /// Its length.
    pub length: BowLengthIn,
    /// Its draw weight.
    pub draw_weight: DrawWeightLbf,
    /// Whose it is; nobody's means the club's.
    pub owner: Option<MemberId>,
    /// Who shoots it.
    pub archer: Option<MemberId>,
    /// Who looks after it, if another.
    pub keeper: Option<MemberId>,
    /// How often it was changed, and one more.
    pub version: i32,
    /// Since when it is on record.
    pub created_at: Timestamp,
}

impl Bow {
    /// Who is told what the bow needs: its archer and its keeper, else its owner. Nobody means
    /// that the club's owners have to be told.
    #[must_use]
    pub fn carers(&self) -> Vec<MemberId> {
        let mut carers: Vec<MemberId> = self.archer.into_iter().chain(self.keeper).collect();
        if carers.is_empty() {
            carers.extend(self.owner);
        }
        carers.dedup();
        carers
    }
}
