//! From what stands in a body to domain values, collecting every field that cannot be taken.

use std::fmt::Display;

use domain::{
    bows::BowError,
    ledger::{LogTimeError, ShotsError},
    members::AddressError,
    parts::PartError,
    text::{Name, Note, TextError},
    time::{TimeError, parse_instant},
    upkeep::UpkeepError,
};
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::{
    error::ApiError,
    tables::Problem,
    wording::{MOST_CHARS, cut},
};

/// A field that cannot be taken, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct FieldError {
    /// Where it stands (RFC 6901); empty for the whole.
    #[schema(example = "/shots")]
    pub(crate) pointer: String,
    /// Why, as a word that does not change.
    #[schema(example = "too_few")]
    pub(crate) code: &'static str,
    /// Why, in words.
    #[schema(example = "must be at least 1")]
    pub(crate) detail: String,
}

impl FieldError {
    pub(crate) fn new(pointer: &str, code: &'static str, detail: impl Into<String>) -> Self {
        let detail = cut(&detail.into(), MOST_CHARS);
        Self { pointer: pointer.to_owned(), code, detail }
    }
}

/// What stands in the way of a file, pointed to by its line and column.
impl From<&Problem> for FieldError {
    fn from(problem: &Problem) -> Self {
        let column = problem.column.iter();
        let column = column.map(|name| format!("/{}", name.replace('~', "~0").replace('/', "~1")));
        let pointer = format!("/lines/{}{}", problem.line, column.collect::<String>());
        let detail = match (problem.character, problem.value.as_str()) {
            (Some(character), _) => format!("character {character}: {}", problem.reason),
            (None, "") => problem.reason.clone(),
            (None, value) => format!("{value:?}: {}", problem.reason),
        };
        Self::new(&pointer, problem.code, detail)
    }
}

/// The fields of a body on their way into the domain.
#[derive(Debug, Default)]
pub(crate) struct Fields {
    prefix: String,
    errors: Vec<FieldError>,
}

impl Fields {
    /// Fields of an entry of a list, which stand below `prefix`.
    pub(crate) fn below(prefix: String) -> Self {
        Self { prefix, errors: Vec::new() }
    }

    /// Parses what stands below a member.
    pub(crate) fn within<T>(&mut self, below: &str, parse: impl FnOnce(&mut Self) -> T) -> T {
        let outer = self.prefix.len();
        self.prefix.push_str(below);
        let parsed = parse(self);
        self.prefix.truncate(outer);
        parsed
    }

    /// Notes a field that cannot be taken.
    pub(crate) fn refuse(&mut self, pointer: &str, code: &'static str, detail: impl Into<String>) {
        let pointer = format!("{}{pointer}", self.prefix);
        self.errors.push(FieldError::new(&pointer, code, detail));
    }

    /// What was parsed, or a note of why it could not be.
    pub(crate) fn take<T, E: Coded>(&mut self, pointer: &str, parsed: Result<T, E>) -> Option<T> {
        match parsed {
            Ok(value) => Some(value),
            Err(error) => {
                self.refuse(pointer, error.code(), error.to_string());
                None
            }
        }
    }

    /// The same for a field that may be absent.
    pub(crate) fn take_if<T, U, E: Coded>(
        &mut self,
        pointer: &str,
        given: Option<T>,
        parse: impl FnOnce(T) -> Result<U, E>,
    ) -> Option<U> {
        given.and_then(|given| self.take(pointer, parse(given)))
    }

    /// A name.
    pub(crate) fn name(&mut self, pointer: &str, typed: &str) -> Option<Name> {
        self.take(pointer, Name::parse(typed))
    }

    /// A note, empty if absent.
    pub(crate) fn note(&mut self, pointer: &str, typed: Option<&str>) -> Option<Note> {
        self.take(pointer, Note::parse(typed.unwrap_or_default()))
    }

    /// A moment that is over, or lies in the next ten minutes by our clock.
    pub(crate) fn past(&mut self, pointer: &str, text: &str, now: Timestamp) -> Option<Timestamp> {
        let at = self.take(pointer, parse_instant(text))?;
        if at.duration_since(now) > domain::ledger::MAX_AHEAD {
            let detail = format!("lies in the future: the server's time is {now}");
            self.refuse(pointer, "in_future", detail);
            return None;
        }
        Some(at)
    }

    /// One word of a closed list.
    pub(crate) fn word<T: Copy + Display>(
        &mut self,
        pointer: &str,
        word: &str,
        parse: fn(&str) -> Option<T>,
        all: &[T],
    ) -> Option<T> {
        let found = parse(word);
        if found.is_none() {
            let known = all.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
            self.refuse(pointer, "unknown_word", format!("must be one of {known}"));
        }
        found
    }

    /// What was built of the fields; without it, why it could not be.
    pub(crate) fn finish<T>(self, built: Option<T>) -> Result<T, ApiError> {
        match built {
            Some(built) if self.errors.is_empty() => Ok(built),
            _ => Err(ApiError::Invalid(self.errors)),
        }
    }
}

/// What was built of the fields below a member, or why it could not be, by where they stand in the whole.
pub(crate) fn below<T>(prefix: &str, built: Result<T, ApiError>) -> Result<T, ApiError> {
    built.map_err(|error| match error {
        ApiError::Invalid(errors) => {
            let moved = |error: FieldError| FieldError {
                pointer: format!("{prefix}{}", error.pointer),
                ..error
            };
            ApiError::Invalid(errors.into_iter().map(moved).collect())
        }
        other => other,
    })
}

/// An error of the domain with its stable word.
pub(crate) trait Coded: Display {
    fn code(&self) -> &'static str;
}

impl Coded for TextError {
    fn code(&self) -> &'static str {
        match self {
            Self::Empty => "empty",
            Self::TooLong { .. } => "too_long",
            Self::ControlCharacter => "control_character",
        }
    }
}

impl Coded for TimeError {
    fn code(&self) -> &'static str {
        match self {
            Self::NotAnInstant => "not_a_time",
            Self::NoOffset => "no_offset",
            Self::NotADate => "not_a_date",
            Self::OutOfRange => "out_of_range",
            Self::UnknownZone => "unknown_zone",
            Self::NotATimeOfDay => "not_a_time_of_day",
        }
    }
}

impl Coded for LogTimeError {
    fn code(&self) -> &'static str {
        match self {
            Self::Time(error) => error.code(),
            Self::InFuture { .. } => "in_future",
        }
    }
}

impl Coded for ShotsError {
    fn code(&self) -> &'static str {
        match self {
            Self::TooFew => "too_few",
            Self::TooMany => "too_many",
        }
    }
}

impl Coded for AddressError {
    fn code(&self) -> &'static str {
        match self {
            Self::Malformed => "malformed",
            Self::NotAscii => "not_ascii",
            Self::Domain => "bad_domain",
        }
    }
}

impl Coded for BowError {
    fn code(&self) -> &'static str {
        "out_of_range"
    }
}

impl Coded for PartError {
    fn code(&self) -> &'static str {
        match self {
            Self::Retired { .. } => "part_retired",
            Self::BeforeLastFitting { .. } => "before_last_fitting",
            Self::Strands | Self::StartingShots | Self::UnitCost => "out_of_range",
        }
    }
}

impl Coded for UpkeepError {
    fn code(&self) -> &'static str {
        match self {
            Self::NotInspected => "not_inspected",
            Self::FoundTwice => "duplicate",
            Self::NotMeasured => "not_measured",
            Self::GoesWithFittings => "goes_with_fittings",
            Self::WrongFinding(_) => "wrong_finding",
            Self::WrongTask(_) => "wrong_task",
            Self::Grade | Self::OutOfRange { .. } => "out_of_range",
        }
    }
}
