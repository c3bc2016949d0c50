//! A part on a host: a string on a bow, a serving on a string, from … to ….

use jiff::{Timestamp, civil::Date};

use crate::{
    ids::{BowId, FittingId, PartId},
    parts::{Part, PartKind},
};

/// What a part is fitted to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Host {
    /// A bow.
    Bow(BowId),
    /// Another part: a serving lives on a string.
    Part(PartId),
}

/// A part's stay on a host; it counts what is shot from `from` until just before `to`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fitting {
    /// Which stay.
    pub id: FittingId,
    /// What is fitted.
    pub part_id: PartId,
    /// To what.
    pub host: Host,
    /// Since when.
    pub from: Timestamp,
    /// Until when, if it is over.
    pub to: Option<Timestamp>,
    /// In which version: one more than the times it was changed.
    pub version: i32,
}

/// Why a part cannot be fitted or taken off so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FittingError {
    /// The part was retired by then.
    #[error("the part was retired on {0}")]
    PartRetired(Timestamp),
    /// The host was retired by then.
    #[error("what it would be fitted to was retired on {0}")]
    HostRetired(Timestamp),
    /// That kind of part does not go there.
    #[error("a {} is not fitted to {}", .part.label(), host_label(*.host))]
    WrongHost {
        /// The part's kind.
        part: PartKind,
        /// The host's kind; none is a bow.
        host: Option<PartKind>,
    },
    /// The part is somewhere else in that time.
    #[error("the part is already fitted from {from}; take it off first")]
    PartElsewhere {
        /// Since when.
        from: Timestamp,
    },
    /// The host has such a part in that time.
    #[error("there is already a {} from {from}; take that one off first", .kind.label())]
    HostOccupied {
        /// The kind there can be only one of.
        kind: PartKind,
        /// Since when.
        from: Timestamp,
    },
    /// The part was not there yet.
    #[error("the part was only made on {0}")]
    BeforeMade(Date),
    /// What it is fitted to was not there yet.
    #[error("what it would be fitted to was only made on {0}")]
    HostBeforeMade(Date),
    /// It has been taken off already.
    #[error("the part was already taken off on {0}")]
    AlreadyOff(Timestamp),
    /// It would be taken off before it was fitted.
    #[error("the part was only fitted on {0}")]
    BeforeFitted(Timestamp),
}

fn host_label(host: Option<PartKind>) -> &'static str {
    match host {
        None => "a bow",
        Some(PartKind::Bowstring) => "a string",
        Some(PartKind::Cable) => "a cable",
        Some(_) => "such a part",
    }
}

impl Fitting {
    /// Whether it covers a moment.
    #[must_use]
    pub fn covers(&self, at: Timestamp) -> bool {
        self.from <= at && self.to.is_none_or(|to| at < to)
    }

    /// Whether the two share any time at all.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        self.to.is_none_or(|to| other.from < to) && other.to.is_none_or(|to| self.from < to)
    }

    /// Ends the stay.
    ///
    /// # Errors
    /// [`FittingError::AlreadyOff`], [`FittingError::BeforeFitted`].
    pub fn take_off(self, at: Timestamp) -> Result<Self, FittingError> {
        match self.to {
            Some(to) => Err(FittingError::AlreadyOff(to)),
            None if at <= self.from => Err(FittingError::BeforeFitted(self.from)),
            None => Ok(Self { to: Some(at), ..self }),
        }
    }
}

/// What must be known of the two sides before a part is fitted.
#[derive(Debug, Clone, Copy)]
pub struct Surroundings<'a> {
    /// The part that is to be fitted.
    pub part: &'a Part,
    /// The host, where that is a part.
    pub host_part: Option<&'a Part>,
    /// The club's date of the fitting.
    pub on: Date,
    /// Every stay of the part.
    pub of_part: &'a [Fitting],
    /// Every stay on the host of parts of the same kind.
    pub same_kind_on_host: &'a [Fitting],
}

/// Passes a fitting that contradicts nothing on record.
///
/// # Errors
/// The first contradiction found: a retired side, a kind that does not go there, a part that was only
/// made later, the part being elsewhere, the place being taken.
pub fn check(new: &Fitting, around: Surroundings<'_>) -> Result<(), FittingError> {
    if let Some(retirement) = &around.part.retirement {
        return Err(FittingError::PartRetired(retirement.at));
    }
    if let Some(retirement) = around.host_part.and_then(|host| host.retirement.as_ref()) {
        return Err(FittingError::HostRetired(retirement.at));
    }
    check_place(new, around)
}

/// Passes a stay that was on record with other times, where the new ones contradict nothing. Its part
/// or what it is fitted to may have been retired since: then it ends when its part was at the latest,
/// and begins before its host was.
///
/// # Errors
/// The first contradiction found.
pub fn check_moved(moved: &Fitting, around: Surroundings<'_>) -> Result<(), FittingError> {
    if moved.to.is_some_and(|to| to <= moved.from) {
        return Err(FittingError::BeforeFitted(moved.from));
    }
    let retired = |part: &Part| part.retirement.as_ref().map(|retirement| retirement.at);
    if let Some(at) = retired(around.part).filter(|at| moved.to.is_none_or(|to| *at < to)) {
        return Err(FittingError::PartRetired(at));
    }
    if let Some(at) = around.host_part.and_then(retired).filter(|at| *at <= moved.from) {
        return Err(FittingError::HostRetired(at));
    }
    check_place(moved, around)
}

/// Passes a stay of a part that goes there, was made by then, and finds the place free. The stay
/// itself may be among those on record.
fn check_place(stay: &Fitting, around: Surroundings<'_>) -> Result<(), FittingError> {
    let (kind, host) = (around.part.kind, around.host_part.map(|part| part.kind));
    if !goes_on(kind, host) {
        return Err(FittingError::WrongHost { part: kind, host });
    }
    let made_later = |part: &Part| part.made_on.filter(|made_on| around.on < *made_on);
    if let Some(made_on) = made_later(around.part) {
        return Err(FittingError::BeforeMade(made_on));
    }
    if let Some(made_on) = around.host_part.and_then(made_later) {
        return Err(FittingError::HostBeforeMade(made_on));
    }
    let in_the_way = |others: &[Fitting]| {
        let other = others.iter().find(|other| other.id != stay.id && other.overlaps(stay));
        other.map(|other| other.from)
    };
    if let Some(from) = in_the_way(around.of_part) {
        return Err(FittingError::PartElsewhere { from });
    }
    match in_the_way(around.same_kind_on_host) {
        Some(from) if kind.one_at_a_time() => Err(FittingError::HostOccupied { kind, from }),
        _ => Ok(()),
    }
}

/// Servings, nocking point, D-loop and peep go on a string or cable, the rest on a bow. Hosts are
/// therefore never deeper than two, and no chain of hosts can close on itself.
fn goes_on(kind: PartKind, host: Option<PartKind>) -> bool {
    match host {
        None => !kind.rides_on_string(),
        Some(PartKind::Bowstring | PartKind::Cable) => {
            kind.rides_on_string() || kind == PartKind::Other
        }
        Some(_) => false,
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::{
        parts::{End, Retirement},
        text::Name,
        time::Zone,
    };

    fn at(day: i64) -> Timestamp {
        Timestamp::from_second(day * 86_400).unwrap()
    }

    fn part(n: u128, kind: PartKind) -> Part {
        Part { id: PartId(Uuid::from_u128(n)), ..Part::bare(kind) }
    }

    fn stay(part: &Part, from: i64, to: Option<i64>) -> Fitting {
        Fitting {
            // Its times tell it from the others of a test.
            id: FittingId(Uuid::from_u64_pair(from.cast_unsigned(), part.id.0.as_u64_pair().1)),
            part_id: part.id,
            host: Host::Bow(BowId(Uuid::nil())),
            from: at(from),
            to: to.map(at),
            version: 1,
        }
    }

    fn verdict(
        new: Fitting,
        part: &Part,
        of_part: &[Fitting],
        on_host: &[Fitting],
    ) -> Result<(), FittingError> {
        let on = Zone::utc().date_of(new.from);
        let around =
            Surroundings { part, host_part: None, on, of_part, same_kind_on_host: on_host };
        check(&new, around)
    }

    #[test]
    fn a_part_is_in_one_place_at_a_time() {
        let string = part(1, PartKind::Bowstring);
        let before = [stay(&string, 10, Some(20))];
        let elsewhere = Err(FittingError::PartElsewhere { from: at(10) });
        for (from, to, expected) in [
            (20, None, Ok(())),
            (0, Some(10), Ok(())),
            (19, None, elsewhere),
            (0, Some(11), elsewhere),
            (0, None, elsewhere),
            (12, Some(13), elsewhere),
        ] {
            assert_eq!(verdict(stay(&string, from, to), &string, &before, &[]), expected, "{from}");
        }
    }

    #[test]
    fn a_bow_has_one_string_but_any_number_of_cables() {
        let (first, second) = (part(1, PartKind::Bowstring), part(2, PartKind::Bowstring));
        assert_eq!(
            verdict(stay(&second, 5, None), &second, &[], &[stay(&first, 0, None)]),
            Err(FittingError::HostOccupied { kind: PartKind::Bowstring, from: at(0) })
        );
        let (first, second) = (part(1, PartKind::Cable), part(2, PartKind::Cable));
        assert_eq!(verdict(stay(&second, 5, None), &second, &[], &[stay(&first, 0, None)]), Ok(()));
    }

    #[test]
    fn servings_go_on_strings_and_strings_on_bows() {
        for &kind in PartKind::ALL {
            let on_bow = goes_on(kind, None);
            let on_string = goes_on(kind, Some(PartKind::Bowstring));
            assert!(on_bow != on_string || kind == PartKind::Other, "{kind}");
            assert!(!goes_on(kind, Some(PartKind::CenterServing)), "{kind}");
        }
    }

    #[test]
    fn a_retired_part_stays_off() {
        let mut string = part(1, PartKind::Bowstring);
        let reason = Name::parse("frayed").unwrap();
        string.retirement = Some(Retirement { at: at(3), end: End::Worn, reason });
        assert_eq!(
            verdict(stay(&string, 5, None), &string, &[], &[]),
            Err(FittingError::PartRetired(at(3)))
        );
    }

    #[test]
    fn a_stay_of_the_past_may_be_of_what_was_retired_since() {
        let retired = |n, kind| {
            let reason = Name::parse("frayed").unwrap();
            let retirement = Some(Retirement { at: at(3), end: End::Worn, reason });
            Part { retirement, ..part(n, kind) }
        };
        let on = Zone::utc().date_of(at(0));
        let verdict = |new: Fitting, part: &Part, host_part: Option<&Part>| {
            let (of_part, same_kind_on_host) = (&[], &[]);
            check_moved(&new, Surroundings { part, host_part, on, of_part, same_kind_on_host })
        };
        let string = retired(1, PartKind::Bowstring);
        let gone = Err(FittingError::PartRetired(at(3)));
        for (from, to, expected) in [
            (1, Some(3), Ok(())),
            (1, Some(4), gone),
            (1, None, gone),
            (2, Some(2), Err(FittingError::BeforeFitted(at(2)))),
        ] {
            assert_eq!(verdict(stay(&string, from, to), &string, None), expected, "{from} {to:?}");
        }
        // The serving stayed on the string that was thrown away.
        let serving = part(2, PartKind::CenterServing);
        let on_it = |from| Fitting { host: Host::Part(string.id), ..stay(&serving, from, None) };
        assert_eq!(verdict(on_it(1), &serving, Some(&string)), Ok(()));
        let too_late = Err(FittingError::HostRetired(at(3)));
        assert_eq!(verdict(on_it(3), &serving, Some(&string)), too_late);
    }

    #[test]
    fn a_part_is_fitted_on_the_day_it_was_made_or_later() {
        let made_on = jiff::civil::date(1970, 1, 6);
        let string = Part { made_on: Some(made_on), ..part(1, PartKind::Bowstring) };
        assert_eq!(verdict(stay(&string, 5, None), &string, &[], &[]), Ok(()));
        assert_eq!(
            verdict(stay(&string, 4, None), &string, &[], &[]),
            Err(FittingError::BeforeMade(made_on))
        );
    }

    #[test]
    fn a_stay_ends_once_and_after_it_began() {
        let string = part(1, PartKind::Bowstring);
        assert_eq!(stay(&string, 5, None).take_off(at(9)).map(|f| f.to), Ok(Some(at(9))));
        assert_eq!(stay(&string, 5, Some(7)).take_off(at(9)), Err(FittingError::AlreadyOff(at(7))));
        assert_eq!(stay(&string, 5, None).take_off(at(5)), Err(FittingError::BeforeFitted(at(5))));
    }

    /// A stay from day 10 to 20 that is moved.
    fn moved(
        part: &Part,
        host: Option<&Part>,
        (from, to): (i64, Option<i64>),
        others: &[Fitting],
    ) -> Result<(), FittingError> {
        let on_record = stay(part, 10, Some(20));
        let new = Fitting { from: at(from), to: to.map(at), ..on_record };
        let of_part: Vec<Fitting> = others.iter().copied().chain([on_record]).collect();
        let on = Zone::utc().date_of(new.from);
        check_moved(
            &new,
            Surroundings {
                part,
                host_part: host,
                on,
                of_part: &of_part,
                same_kind_on_host: &of_part,
            },
        )
    }

    #[test]
    fn a_moved_stay_is_in_nobodys_way_but_its_own() {
        let string = part(1, PartKind::Bowstring);
        let next = [stay(&string, 30, Some(40))];
        let elsewhere = Err(FittingError::PartElsewhere { from: at(30) });
        for (from, to, expected) in [
            (5, Some(30), Ok(())),
            (12, Some(15), Ok(())),
            (40, None, Ok(())),
            (10, Some(31), elsewhere),
            (10, None, elsewhere),
            (39, None, elsewhere),
            (20, Some(20), Err(FittingError::BeforeFitted(at(20)))),
            (25, Some(20), Err(FittingError::BeforeFitted(at(25)))),
        ] {
            assert_eq!(moved(&string, None, (from, to), &next), expected, "{from} {to:?}");
        }
        let other = part(2, PartKind::Bowstring);
        let taken = FittingError::HostOccupied { kind: PartKind::Bowstring, from: at(30) };
        let on_the_bow = [stay(&other, 30, None)];
        let (on, new) = (Zone::utc().date_of(at(10)), stay(&string, 10, Some(31)));
        let around = Surroundings {
            part: &string,
            host_part: None,
            on,
            of_part: &[],
            same_kind_on_host: &on_the_bow,
        };
        assert_eq!(check_moved(&new, around), Err(taken));
    }

    #[test]
    fn a_moved_stay_keeps_to_the_lives_of_both_sides() {
        let reason = Name::parse("frayed").unwrap();
        let ended = |part: Part| Part {
            retirement: Some(Retirement { at: at(20), end: End::Worn, reason: reason.clone() }),
            ..part
        };
        let made = |part: Part| Part { made_on: Some(jiff::civil::date(1970, 1, 9)), ..part };
        let string = ended(part(1, PartKind::Bowstring));
        for (span, expected) in [
            ((5, Some(20)), Ok(())),
            ((10, Some(21)), Err(FittingError::PartRetired(at(20)))),
            ((10, None), Err(FittingError::PartRetired(at(20)))),
        ] {
            assert_eq!(moved(&string, None, span, &[]), expected, "{span:?}");
        }
        let (serving, host) = (part(2, PartKind::CenterServing), made(string));
        for (span, expected) in [
            ((8, Some(20)), Ok(())),
            ((19, None), Ok(())),
            ((20, None), Err(FittingError::HostRetired(at(20)))),
            ((7, None), Err(FittingError::HostBeforeMade(jiff::civil::date(1970, 1, 9)))),
        ] {
            assert_eq!(moved(&serving, Some(&host), span, &[]), expected, "{span:?}");
        }
        let late = made(part(3, PartKind::Bowstring));
        assert!(matches!(moved(&late, None, (7, Some(9)), &[]), Err(FittingError::BeforeMade(_))));
    }
}
