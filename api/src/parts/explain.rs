//! Why a part is said to be what it is: the arithmetic of its clocks and every rule that was asked.

use std::collections::BTreeMap;

use actix_web::{get, web};
use domain::{
    account::{Account, Asked, Tally, Term},
    clubs::Club,
    ids::{BowId, MemberId, PartId},
    time::{Zone, parse_date, parse_instant},
};
use jiff::{Timestamp, civil::Date, civil::Time};
use serde::{Deserialize, Serialize};
use store::{Read, StoreError};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    auth::SignedIn, error::ApiError, fields::Fields, paging::Query, rules::RuleBody, server::Api,
    within_reach,
};

/// Of which moment.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct ExplainQuery {
    /// A time with an offset, or a date, which stands for the end of that day at the club; now unless
    /// given. The rules are those that were in force then.
    #[param(example = "2026-01-24")]
    at: Option<String>,
}

/// The account of a part at a moment. What became known later of the time before it is in it.
#[derive(Serialize, ToSchema)]
pub(crate) struct ExplainBody {
    part_id: Uuid,
    #[schema(example = "string")]
    kind: &'static str,
    #[schema(example = "Blue 20-strand")]
    name: String,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    #[schema(example = "due")]
    condition: &'static str,
    #[schema(example = "wax the string: 520 shots since last waxed; plan 500")]
    reason: String,
    /// Each clock, term by term.
    clocks: Vec<ClockBody>,
    /// Every rule that covers the part, those that speak first, the most urgent of them first.
    rules: Vec<AskedBody>,
    /// What goes before all of this.
    #[schema(example = "Local rules and the makers' instructions come first.")]
    caution: &'static str,
}

/// What a clock counted.
#[derive(Serialize, ToSchema)]
struct ClockBody {
    /// `life`, or the work since which it counts.
    #[schema(example = "waxed")]
    clock: &'static str,
    /// When that work was last done; null if never, and for the whole life.
    #[schema(value_type = Option<String>, format = DateTime)]
    last_done_at: Option<Timestamp>,
    /// Shots that the part came with, as far as the clock counts them.
    #[schema(example = 0)]
    came_with_shots: i64,
    terms: Vec<TermBody>,
    #[schema(example = 520)]
    shots: i64,
    /// The same as one line.
    #[schema(example = "0 (came with) + 520 (Blue recurve from 2026-01-10 on, 7 logs) = 520")]
    sum: String,
}

/// What was logged while the part was under one bow.
#[derive(Serialize, ToSchema)]
struct TermBody {
    /// Null for a bow out of reach.
    bow_id: Option<Uuid>,
    #[schema(example = "Blue recurve")]
    bow: String,
    #[schema(value_type = String, format = DateTime)]
    from: Timestamp,
    /// Null where it went on.
    #[schema(value_type = Option<String>, format = DateTime)]
    to: Option<Timestamp>,
    #[schema(example = 7)]
    logs: i64,
    #[schema(example = 520)]
    shots: i64,
}

/// A rule that covers the part.
#[derive(Serialize, ToSchema)]
struct AskedBody {
    /// As it was in force at that moment.
    rule: RuleBody,
    /// Who set it; null means that it came with the club.
    #[schema(example = "Ilse Varga-Holm")]
    set_by_name: Option<String>,
    /// Whether it speaks: of several rules for one kind of work the one with the narrowest scope does.
    speaks: bool,
    triggers: Vec<TriggerBody>,
}

/// How far one trigger of a rule has come.
#[derive(Serialize, ToSchema)]
struct TriggerBody {
    #[schema(example = "shots")]
    trigger: &'static str,
    /// What it alone makes of the part.
    #[schema(example = "due")]
    condition: &'static str,
    /// Shots, days, the worst grade found, or incidents.
    #[schema(example = 520)]
    count: i64,
    #[schema(example = 500)]
    limit: i64,
    /// Null where it is no count of shots.
    #[schema(example = -20)]
    shots_left: Option<i64>,
    /// Null where the calendar does not matter.
    #[schema(value_type = Option<String>, format = Date)]
    until: Option<Date>,
    #[schema(example = "520 shots since last waxed; plan 500")]
    reason: String,
}

/// What the ids in an account are called, as far as its reader may see them.
struct Names {
    bows: BTreeMap<BowId, String>,
    members: BTreeMap<MemberId, String>,
}

impl ExplainBody {
    fn of(account: Account, names: &Names, club: &Club, at: Timestamp) -> Self {
        let Account { record, tallies, assessment, asked } = account;
        Self {
            part_id: record.part.id.0,
            kind: record.part.kind.as_str(),
            name: record.part.name.to_string(),
            at,
            condition: assessment.condition.as_str(),
            reason: assessment.reason,
            clocks: tallies.iter().map(|one| ClockBody::of(one, names, &club.zone)).collect(),
            rules: asked.into_iter().map(|one| AskedBody::of(one, names)).collect(),
            caution: domain::safety::FIRST,
        }
    }
}

impl ClockBody {
    fn of(tally: &Tally, names: &Names, zone: &Zone) -> Self {
        let name = |bow| names.bows.get(&bow).cloned().unwrap_or_else(|| "another bow".to_owned());
        let term = |term: &Term| TermBody {
            bow_id: names.bows.contains_key(&term.bow).then_some(term.bow.0),
            bow: name(term.bow),
            from: term.from,
            to: term.to,
            logs: term.logs,
            shots: term.shots,
        };
        let line = |term: &Term| {
            let from = zone.date_of(term.from);
            let to =
                term.to.map_or_else(|| "on".to_owned(), |to| format!("to {}", zone.date_of(to)));
            format!("{} ({} from {from} {to}, {} logs)", term.shots, name(term.bow), term.logs)
        };
        let came_with = format!("{} (came with)", tally.came_with);
        let summands: Vec<String> =
            std::iter::once(came_with).chain(tally.terms.iter().map(line)).collect();
        Self {
            clock: tally.clock.as_str(),
            last_done_at: tally.reset_at,
            came_with_shots: tally.came_with,
            terms: tally.terms.iter().map(term).collect(),
            shots: tally.shots(),
            sum: format!("{} = {}", summands.join(" + "), tally.shots()),
        }
    }
}

impl AskedBody {
    fn of(asked: Asked, names: &Names) -> Self {
        let set_by = asked.rule.provenance.set_by;
        let triggers = asked.triggers.into_iter().map(|one| TriggerBody {
            trigger: one.trigger.as_str(),
            condition: one.condition.as_str(),
            count: one.count,
            limit: one.limit,
            shots_left: one.left.shots,
            until: one.left.until,
            reason: one.reason,
        });
        Self {
            set_by_name: set_by.and_then(|by| names.members.get(&by)).cloned(),
            speaks: asked.speaks,
            triggers: triggers.collect(),
            rule: RuleBody::from(asked.rule),
        }
    }
}

/// The moment that is asked about; never one that is still to come.
fn moment(typed: Option<&str>, zone: &Zone, now: Timestamp) -> Result<Timestamp, ApiError> {
    let Some(typed) = typed else { return Ok(now) };
    let mut fields = Fields::default();
    let at = if typed.contains(['T', ':']) {
        fields.take("/at", parse_instant(typed))
    } else {
        let day = fields.take("/at", parse_date(typed));
        let end = day.filter(|day| *day != zone.date_of(now)).map(|day| {
            let next = day.tomorrow().unwrap_or(day);
            zone.instant(next, Time::midnight()).map(|at| at - jiff::SignedDuration::from_micros(1))
        });
        match end {
            Some(end) => fields.take("/at", end),
            None => day.map(|_today| now),
        }
    };
    if at.is_some_and(|at| at > now) {
        fields.refuse(
            "/at",
            "in_future",
            format!("lies in the future: the server's time is {now}"),
        );
    }
    fields.finish(at)
}

fn names(read: &mut Read<'_>, who: SignedIn) -> Result<Names, StoreError> {
    let bows = within_reach::bows(read, who)?.into_values();
    let members = store::members::all(read, who.club)?.into_iter();
    Ok(Names {
        bows: bows.map(|bow| (bow.id, bow.name.to_string())).collect(),
        members: members.map(|member| (member.id, member.name.to_string())).collect(),
    })
}

/// Why a part is said to be what it is, now or at a moment of the past: fittings times logs, each
/// trigger's count and limit, and whose setting applied.
#[utoipa::path(
    operation_id = "explain_part",
    tag = "parts",
    params(("id" = Uuid, Path, description = "The part"), ExplainQuery),
    responses((status = 200, description = "The account", body = ExplainBody))
)]
#[get("/parts/{id}/explain")]
pub(crate) async fn explain_part(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<ExplainQuery>,
    id: web::Path<Uuid>,
) -> Result<web::Json<ExplainBody>, ApiError> {
    let (id, now) = (PartId(id.into_inner()), api.now());
    let body = api.store.read(move |read| {
        store::parts::get(read, who.club, id)?;
        within_reach::may_tend_part(read, who, id)?;
        let club = store::clubs::get(read, who.club)?;
        let at = moment(query.0.at.as_deref(), &club.zone, now)?;
        let account = store::account::of_part(read, &club, id, at)?;
        if account.is_before_its_time(&club.zone, at) {
            let mut fields = Fields::default();
            fields.refuse("/at", "before_part", "the part was neither made nor on record by then");
            return fields.finish(None);
        }
        Ok::<_, ApiError>(ExplainBody::of(account, &names(read, who)?, &club, at))
    });
    Ok(web::Json(body.await?))
}
