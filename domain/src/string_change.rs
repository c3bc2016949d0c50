//! A string change: one string comes off a bow and another goes on, with its servings and with what
//! was set afterwards.

use jiff::Timestamp;

use crate::{
    fittings::{Fitting, FittingError},
    ids::{MemberId, PartId},
    parts::{Part, PartKind, Retirement},
    text::Note,
    upkeep::UpkeepTask,
};

/// The string that goes on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NewString {
    /// One that is on record.
    Known(PartId),
    /// One that is put on record now.
    Made(Part),
}

/// Something that was set on the new string.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// Which kind of work.
    pub task: UpkeepTask,
    /// What was measured.
    pub measured_mm: Option<f64>,
    /// Anything worth knowing.
    pub note: Note,
}

/// A change of the string of a bow.
#[derive(Debug, Clone, PartialEq)]
pub struct StringChange {
    /// When.
    pub at: Timestamp,
    /// What goes on.
    pub new: NewString,
    /// How the life of the old one ended, if it did.
    pub old_end: Option<Retirement>,
    /// Servings that were wound on the new one, to be put on record now.
    pub servings: Vec<Part>,
    /// What was set on the new one.
    pub settings: Vec<Setting>,
    /// Who entered it.
    pub entered_by: MemberId,
    /// When it reached us.
    pub received_at: Timestamp,
}

/// Why a string cannot be changed so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum StringChangeError {
    /// What is to go on is no string.
    #[error("must be a string, and is a {}", .0.label())]
    NotAString(PartKind),
    /// The end of an old string was told, and there is none.
    #[error("there is no string on the bow at that time")]
    NoOldString,
    /// It contradicts where parts hang.
    #[error(transparent)]
    Fitting(#[from] FittingError),
}

impl StringChange {
    /// The stay that the change ends, of `strings`, which are the stays of all strings on the bow; none
    /// if the bow has no string at that time.
    ///
    /// # Errors
    /// [`FittingError::BeforeFitted`] when the string that is on the bow came no earlier,
    /// [`FittingError::AlreadyOff`] when the one that was on it then has been taken off since,
    /// [`StringChangeError::NoOldString`].
    pub fn ended(&self, strings: &[Fitting]) -> Result<Option<Fitting>, StringChangeError> {
        if let Some(later) = strings.iter().find(|stay| stay.to.is_none() && stay.from >= self.at) {
            return Err(FittingError::BeforeFitted(later.from).into());
        }
        match strings.iter().find(|stay| stay.covers(self.at)) {
            Some(Fitting { to: Some(to), .. }) => Err(FittingError::AlreadyOff(*to).into()),
            None if self.old_end.is_some() => Err(StringChangeError::NoOldString),
            found => Ok(found.copied()),
        }
    }

    /// Passes a part as the one that goes on, where `ended` comes off.
    ///
    /// # Errors
    /// [`StringChangeError::NotAString`], [`FittingError::PartElsewhere`] when it is the one that
    /// comes off.
    pub fn goes_on(&self, new: &Part, ended: Option<&Fitting>) -> Result<(), StringChangeError> {
        if new.kind != PartKind::Bowstring {
            return Err(StringChangeError::NotAString(new.kind));
        }
        match ended.filter(|ended| ended.part_id == new.id) {
            Some(same) => Err(FittingError::PartElsewhere { from: same.from }.into()),
            None => Ok(()),
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
        parts::End,
        text::Name,
    };

    fn at(day: i64) -> Timestamp {
        Timestamp::from_second(day * 86_400).unwrap()
    }

    fn stay(from: i64, to: Option<i64>) -> Fitting {
        let host = Host::Bow(BowId(Uuid::nil()));
        let (id, part_id) = (FittingId(Uuid::nil()), PartId(Uuid::nil()));
        Fitting { id, part_id, host, from: at(from), to: to.map(at), version: 1 }
    }

    fn ended(day: i64, old_end: bool, stays: &[Fitting]) -> Result<bool, StringChangeError> {
        let reason = Name::of_ours("fuzzy");
        let change = StringChange {
            at: at(day),
            new: NewString::Known(PartId(Uuid::nil())),
            old_end: old_end.then_some(Retirement { at: at(day), end: End::Worn, reason }),
            servings: Vec::new(),
            settings: Vec::new(),
            entered_by: MemberId(Uuid::nil()),
            received_at: at(day),
        };
        change.ended(stays).map(|ended| ended.is_some())
    }

    #[test]
    fn the_string_that_is_on_comes_off_and_no_other() {
        assert_eq!(ended(5, false, &[]), Ok(false));
        assert_eq!(ended(5, true, &[]), Err(StringChangeError::NoOldString));
        assert_eq!(ended(5, true, &[stay(1, None)]), Ok(true));
        assert_eq!(ended(5, false, &[stay(1, Some(5))]), Ok(false));
        let too_early = FittingError::BeforeFitted(at(5));
        assert_eq!(ended(5, false, &[stay(5, None)]), Err(too_early.into()));
        assert_eq!(ended(3, false, &[stay(1, Some(4)), stay(5, None)]), Err(too_early.into()));
        let was_changed = FittingError::AlreadyOff(at(6));
        assert_eq!(ended(5, false, &[stay(1, Some(6))]), Err(was_changed.into()));
    }
}
