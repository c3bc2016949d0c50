//! Limits on their way into the domain: what was asked for, and where a fault of theirs stands in a
//! body. What may be asked for is the domain's to say.

use std::{collections::BTreeSet, fmt::Display};

use domain::{
    incidents::IncidentKind,
    rules::{
        AskedDays, AskedFinding, AskedLimits, AskedShots, Combine, Fault, Place, Provenance,
        SET_BY_THE_CLUB,
    },
    time::parse_date,
    upkeep::Finding,
};
use jiff::civil::Date;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::fields::{Coded, Fields};
use crate::patch::Clearable;

/// Limits in shots to be set.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SetShots {
    /// The work is planned for this count.
    #[schema(example = 500, minimum = 1, maximum = 1_000_000)]
    plan: i64,
    /// So many shots ahead it is announced; absent means none.
    #[serde(default)]
    #[schema(example = 100, minimum = 0, maximum = 1_000_000)]
    notice: i64,
    /// So many past the plan are borne with; absent means none.
    #[serde(default)]
    #[schema(example = 100, minimum = 0, maximum = 1_000_000)]
    grace: i64,
    /// At this count the part is out of use.
    #[schema(minimum = 1, maximum = 1_000_000)]
    retire: Option<i64>,
}

/// Limits by the calendar to be set: a plan, a retirement, or both.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SetDays {
    /// The work is planned for this many days.
    #[schema(example = 14, minimum = 1, maximum = 3_650)]
    plan: Option<i64>,
    /// So many days ahead it is announced; absent means none.
    #[serde(default)]
    #[schema(example = 3, minimum = 0, maximum = 3_650)]
    notice: i64,
    /// So many past the plan are borne with; absent means none.
    #[serde(default)]
    #[schema(example = 3, minimum = 0, maximum = 3_650)]
    grace: i64,
    /// After so many calendar months the part is out of use.
    #[schema(minimum = 1, maximum = 120)]
    retire_months: Option<i64>,
}

impl From<SetShots> for AskedShots {
    fn from(set: SetShots) -> Self {
        let SetShots { plan, notice, grace, retire } = set;
        Self { plan, notice, grace, retire }
    }
}

impl From<SetDays> for AskedDays {
    fn from(set: SetDays) -> Self {
        let SetDays { plan, notice, grace, retire_months } = set;
        Self { plan, notice, grace, retire_months }
    }
}

/// A trigger by what was found at inspections since the work was last done.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SetFinding {
    /// Any of these; absent or empty means whatever parts of the kind are looked over for.
    #[serde(default)]
    #[schema(example = json!(["flat_serving"]), max_items = 20)]
    any_of: Vec<String>,
    /// From this grade on: 1 light, 2 marked, 3 unsafe.
    #[schema(example = 2, minimum = 1, maximum = 3)]
    from_grade: i64,
}

impl SetFinding {
    /// What is asked for; words that are none are noted.
    pub(super) fn parse(&self, fields: &mut Fields) -> AskedFinding {
        let any_of = words(fields, "/finding/any_of", &self.any_of, Finding::parse, Finding::ALL);
        AskedFinding { any_of, from_grade: self.from_grade }
    }
}

/// The incidents that are asked for; words that are none are noted.
pub(super) fn incidents(fields: &mut Fields, typed: &[String]) -> BTreeSet<IncidentKind> {
    words(fields, "/incidents", typed, IncidentKind::parse, IncidentKind::ALL)
}

/// How the triggers are to go together; first come if absent.
pub(super) fn combine(fields: &mut Fields, typed: Option<&str>) -> Combine {
    let word = typed.map(|word| fields.word("/combine", word, Combine::parse, Combine::ALL));
    word.flatten().unwrap_or_default()
}

fn words<T: Copy + Ord + Display>(
    fields: &mut Fields,
    pointer: &str,
    typed: &[String],
    parse: fn(&str) -> Option<T>,
    all: &[T],
) -> BTreeSet<T> {
    let each = typed.iter().enumerate();
    each.filter_map(|(i, word)| fields.word(&format!("{pointer}/{i}"), word, parse, all)).collect()
}

/// From which day on a setting is to be in force; the past is as it was.
pub(super) fn effective_on(
    fields: &mut Fields,
    typed: Option<&str>,
    today: Date,
) -> Clearable<Date> {
    let Some(typed) = typed else { return Some(None) };
    let day = fields.take("/effective_on", parse_date(typed))?;
    if day < today {
        let detail = format!("must not be before today, {today}: what was judged stays as it was");
        fields.refuse("/effective_on", "in_past", detail);
        return None;
    }
    Some(Some(day))
}

/// Limits in shots to be changed; what is absent stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ChangeShots {
    #[serde(default, deserialize_with = "crate::patch::replacement")]
    #[schema(example = 600, minimum = 1, maximum = 1_000_000, nullable = false)]
    plan: Option<i64>,
    /// Null means none.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000)]
    notice: Clearable<i64>,
    /// Null means none.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 1_000_000)]
    grace: Clearable<i64>,
    /// Null takes the limit away.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<i64>, minimum = 1, maximum = 1_000_000)]
    retire: Clearable<i64>,
}

/// Limits by the calendar to be changed; what is absent stays.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ChangeDays {
    /// Null takes the limit away.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<i64>, minimum = 1, maximum = 3_650)]
    plan: Clearable<i64>,
    /// Null means none.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 3_650)]
    notice: Clearable<i64>,
    /// Null means none.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<i64>, minimum = 0, maximum = 3_650)]
    grace: Clearable<i64>,
    /// Null takes the limit away.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<i64>, minimum = 1, maximum = 120)]
    retire_months: Clearable<i64>,
}

impl ChangeShots {
    /// What is asked for, of what there is. Where there is nothing yet, a plan is needed.
    pub(super) fn of(self, now: Option<AskedShots>, fields: &mut Fields) -> AskedShots {
        if now.is_none() && self.plan.is_none() {
            fields.refuse("/shots/plan", "missing", "is needed where there was none");
        }
        let now = now.unwrap_or(AskedShots { plan: 1, ..AskedShots::default() });
        AskedShots {
            plan: self.plan.unwrap_or(now.plan),
            notice: self.notice.map_or(now.notice, Option::unwrap_or_default),
            grace: self.grace.map_or(now.grace, Option::unwrap_or_default),
            retire: self.retire.unwrap_or(now.retire),
        }
    }
}

impl ChangeDays {
    /// What is asked for, of what there is.
    pub(super) fn of(self, now: Option<AskedDays>) -> AskedDays {
        let now = now.unwrap_or_default();
        AskedDays {
            plan: self.plan.unwrap_or(now.plan),
            notice: self.notice.map_or(now.notice, Option::unwrap_or_default),
            grace: self.grace.map_or(now.grace, Option::unwrap_or_default),
            retire_months: self.retire_months.unwrap_or(now.retire_months),
        }
    }
}

/// On what ground a rule stands that somebody sets, and whether they give a reason for a limit that is
/// refused without one.
pub(super) struct Ground {
    pub(super) source: Option<String>,
    pub(super) override_reason: Option<String>,
}

impl Ground {
    /// What will stand as the source; whether limits that need a reason have one is noted in them.
    pub(super) fn parse(&self, fields: &mut Fields, asked: &mut AskedLimits) -> Option<String> {
        let mut name = |pointer: &str, typed: &Option<String>| match typed {
            Some(typed) => fields.name(pointer, typed).map(Some),
            None => Some(None),
        };
        let (source, reason) =
            (name("/source", &self.source), name("/override_reason", &self.override_reason));
        asked.overridden = self.override_reason.is_some();
        let source = source?.map_or_else(|| SET_BY_THE_CLUB.to_owned(), |name| name.to_string());
        let reason = reason?.map(|reason| reason.to_string());
        Some(Provenance::source(&source, reason.as_deref()))
    }
}

/// What was taken, or a note of everything that was not.
pub(super) fn take<T>(fields: &mut Fields, limits: Result<T, Vec<(Place, Fault)>>) -> Option<T> {
    match limits {
        Ok(limits) => Some(limits),
        Err(misfits) => {
            for (place, fault) in misfits {
                fields.refuse(&format!("/{}", place.path("/")), fault.code(), fault.to_string());
            }
            None
        }
    }
}

impl Coded for Fault {
    fn code(&self) -> &'static str {
        match self {
            Self::WrongTask => "wrong_task",
            Self::Missing | Self::NoTrigger | Self::NoDays => "missing",
            Self::NotForTask => "not_for_task",
            Self::OutOfRange { .. } | Self::Grade => "out_of_range",
            Self::NoticeNotBelow => "not_below_limit",
            Self::RetireNotAbove => "not_above_plan",
            Self::NotRising => "not_rising",
            Self::TooMany => "too_many",
            Self::WrongFinding => "wrong_finding",
            Self::NeverFires => "never_fires",
            Self::NothingToCombine => "nothing_to_combine",
            Self::NeedsOverride => "needs_override",
            Self::NothingToOverride => "nothing_to_override",
        }
    }
}
