//! How the board is written: a row for each bow, the most urgent first.

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    bows::Bow,
    clubs::Club,
    events::Event,
    forecast::{Outlook, Pace},
    ids::{BowId, MemberId},
    members::Member,
    parts::PartKind,
    rules::{Assessment, Condition, RuleTask},
};
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use store::due::UnderBow;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::{bows::missing_parts, parts::StateBody, which_bows::SeenBows};

/// Every bow within reach, and what it needs.
#[derive(Serialize, ToSchema)]
pub(crate) struct BoardBody {
    /// The club's day that it is of.
    #[schema(value_type = String, format = Date, example = "2026-01-12")]
    as_of: Date,
    /// The event that was asked about.
    event: Option<BoardEventBody>,
    /// A row for each bow, the most urgent first.
    data: Vec<BoardRowBody>,
}

/// The event that the board is about.
#[derive(Serialize, ToSchema)]
pub(crate) struct BoardEventBody {
    id: Uuid,
    #[schema(example = "Invented Hill 720")]
    name: String,
    #[schema(value_type = String, format = Date, example = "2026-01-24")]
    starts_on: Date,
    #[schema(value_type = String, format = Date, example = "2026-01-25")]
    ends_on: Date,
    #[schema(example = "regular")]
    priority: &'static str,
    /// Until its first day; below zero when it has begun.
    #[schema(example = 12)]
    days_left: i64,
}

/// A bow and what it needs.
#[derive(Serialize, ToSchema)]
pub(crate) struct BoardRowBody {
    bow: BoardBowBody,
    /// `do_not_shoot` where the bow itself must not be shot; else that of its most urgent part, null for a
    /// bow with nothing on it.
    #[schema(example = "due")]
    condition: Option<&'static str>,
    /// Why, in words and numbers.
    #[schema(example = "wax the string: 520 shots since last waxed; plan 500")]
    reason: String,
    /// Why the bow itself must not be shot, whatever hangs on it; null if nothing says so.
    stopped: Option<String>,
    /// What a bow of its division is shot with and that is not under it now.
    #[schema(example = json!(["center_serving"]))]
    missing_parts: Vec<&'static str>,
    /// Somebody who was told of its work said that it is not theirs to look after: its people want setting
    /// anew.
    #[schema(example = false)]
    disowned: bool,
    /// What has to be done before the event; null if none was asked about.
    before_event: Option<BeforeEventBody>,
    /// Its parts, the most urgent first.
    parts: Vec<StateBody>,
}

/// A bow and its people.
#[derive(Serialize, ToSchema)]
pub(crate) struct BoardBowBody {
    id: Uuid,
    #[schema(example = "Blue recurve")]
    name: String,
    #[schema(example = "recurve")]
    division: &'static str,
    /// Who shoots it.
    archer_member_id: Option<Uuid>,
    #[schema(example = "Tobin Larkmoor")]
    archer_name: Option<String>,
    /// Who looks after it, if another.
    keeper_member_id: Option<Uuid>,
    keeper_name: Option<String>,
}

/// What has to be done on a bow before an event.
#[derive(Serialize, ToSchema)]
pub(crate) struct BeforeEventBody {
    /// Whether anything has to be; a bow or part that must not be shot has to be inspected.
    wants_work: bool,
    /// What is due now, or expected, as likely as not, to be due by the event's first day.
    tasks: Vec<TaskBody>,
}

/// Work on a part.
#[derive(Serialize, ToSchema)]
pub(crate) struct TaskBody {
    part_id: Uuid,
    #[schema(example = "wax")]
    task: &'static str,
    /// As likely due before this day as after it.
    #[schema(value_type = Option<String>, format = Date, example = "2026-01-20")]
    p50_on: Option<Date>,
}

/// What the board is made of.
pub(super) struct Seen {
    pub(super) event: Option<Event>,
    pub(super) members: Vec<Member>,
    pub(super) bows: SeenBows,
    /// Bows of which somebody said that they are not theirs to look after.
    pub(super) disowned: BTreeSet<BowId>,
}

impl BoardBody {
    /// The board as it stands at `now`.
    pub(super) fn of(seen: Seen, now: Timestamp) -> Self {
        let Seen { event, members, bows, disowned } = seen;
        let SeenBows { club, mut rows, paces } = bows;
        let as_of = club.zone.date_of(now);
        let names: BTreeMap<MemberId, Member> =
            members.into_iter().map(|member| (member.id, member)).collect();
        let urgency = |row: &UnderBow| {
            let stopped = row.stop.map(|_| Condition::DoNotShoot);
            stopped.or_else(|| row.parts.first().map(|one| one.assessment.condition))
        };
        // A bow with nothing on it comes last.
        rows.sort_by(|a, b| {
            let (a_worst, b_worst) = (urgency(a), urgency(b));
            (a_worst.is_none(), a_worst, &a.bow.name).cmp(&(
                b_worst.is_none(),
                b_worst,
                &b.bow.name,
            ))
        });
        let by = event.as_ref().map(|event| event.dates.starts_on());
        let made = rows.into_iter().map(|row| {
            let pace = paces.get(&row.bow.id);
            let (club, names, disowned) = (&club, &names, disowned.contains(&row.bow.id));
            BoardRowBody::of(row, &Shown { club, names, pace, as_of, by, disowned, now })
        });
        Self {
            as_of,
            data: made.collect(),
            event: event.map(|event| BoardEventBody::of(&event, as_of)),
        }
    }
}

/// What a row is shown by.
struct Shown<'a> {
    club: &'a Club,
    names: &'a BTreeMap<MemberId, Member>,
    pace: Option<&'a Pace>,
    as_of: Date,
    /// The first day of the event.
    by: Option<Date>,
    disowned: bool,
    now: Timestamp,
}

impl BoardEventBody {
    fn of(event: &Event, as_of: Date) -> Self {
        Self {
            id: event.id.0,
            name: event.name.to_string(),
            starts_on: event.dates.starts_on(),
            ends_on: event.dates.ends_on(),
            priority: event.priority.as_str(),
            days_left: event.dates.days_left(as_of),
        }
    }
}

impl BoardRowBody {
    fn of(row: UnderBow, shown: &Shown<'_>) -> Self {
        let worst = row.parts.first().map(|one| &one.assessment);
        let stopped = row.stop.map(|stop| stop.reason(&shown.club.zone));
        let condition = match &stopped {
            Some(_) => Some(Condition::DoNotShoot.as_str()),
            None => worst.map(|worst| worst.condition.as_str()),
        };
        let reason = stopped.clone().or_else(|| worst.map(|one| one.reason.clone()));
        let reason = reason.unwrap_or_else(|| "nothing is fitted".to_owned());
        let kinds: Vec<PartKind> = row.parts.iter().map(|one| one.record.part.kind).collect();
        let missing_parts = missing_parts(&row.bow, &kinds);
        let mut before_event = shown.by.map(|_| BeforeEventBody::of_bow(row.stop.is_some()));
        let mut parts = Vec::with_capacity(row.parts.len());
        for one in row.parts {
            let outlook = Outlook::of(&one.assessment, shown.pace, shown.as_of);
            if let (Some(before), Some(by)) = (&mut before_event, shown.by) {
                before.take_in(one.record.part.id.0, &one.assessment, &outlook, by);
            }
            parts.push(StateBody::foreseen(one, shown.club, shown.now, &outlook));
        }
        let bow = BoardBowBody::of(&row.bow, shown.names);
        let disowned = shown.disowned;
        Self { bow, condition, reason, stopped, missing_parts, disowned, before_event, parts }
    }
}

impl BoardBowBody {
    fn of(bow: &Bow, names: &BTreeMap<MemberId, Member>) -> Self {
        let name = |member: Option<MemberId>| Some(names.get(&member?)?.name.to_string());
        Self {
            id: bow.id.0,
            name: bow.name.to_string(),
            division: bow.division.as_str(),
            archer_member_id: bow.archer.map(|member| member.0),
            archer_name: name(bow.archer),
            keeper_member_id: bow.keeper.map(|member| member.0),
            keeper_name: name(bow.keeper),
        }
    }
}

impl BeforeEventBody {
    /// Nothing yet, but for the bow itself where it must not be shot.
    const fn of_bow(stopped: bool) -> Self {
        Self { wants_work: stopped, tasks: Vec::new() }
    }

    /// Notes what has to be done on one part by a day.
    fn take_in(&mut self, part: Uuid, found: &Assessment, outlook: &Outlook, by: Date) {
        for (verdict, band) in found.verdicts.iter().zip(&outlook.verdicts) {
            let now = matches!(verdict.condition, Condition::Overdue | Condition::Due);
            let until_then = verdict.task != RuleTask::SettleIn
                && band.p50_on.is_some_and(|p50_on| p50_on <= by);
            if now || until_then {
                let (task, p50_on) = (verdict.task.as_str(), band.p50_on);
                self.tasks.push(TaskBody { part_id: part, task, p50_on });
            }
        }
        let stopped = found.condition == Condition::DoNotShoot;
        self.wants_work |= stopped || !self.tasks.is_empty();
    }
}
