//! Adding a rule to the book.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    clubs::Club,
    ids::{MemberId, RuleId},
    parts::PartKind,
    rules::{
        AskedDays, AskedLimits, AskedShots, Combine, Limits, Provenance, Rule, RuleTask, Scope,
    },
};
use jiff::Timestamp;
use serde::Deserialize;
use store::fresh_id;
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};

use super::{
    RuleBody,
    limits::{Ground, SetDays, SetFinding, SetShots, combine, effective_on, incidents, take},
    scope::{ScopeBody, is_of_the_club},
};
use crate::{
    answer::Answer, audit::Changed, auth::SignedIn, body::Body, error::ApiError, fields::Fields,
    object::Object, openapi::one_of, server::Api,
};

/// A rule to be added.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AddRule {
    #[schema(schema_with = part_kinds)]
    part_kind: String,
    #[schema(schema_with = tasks)]
    task: String,
    /// For which parts of that kind; absent means all of the club.
    #[schema(value_type = Option<ScopeBody>)]
    scope: Option<Object<ScopeBody>>,
    /// `first`: whichever trigger comes first, which is what absent means. `all`: only when all of them
    /// have come.
    #[schema(schema_with = combines)]
    combine: Option<String>,
    #[schema(value_type = Option<SetShots>)]
    shots: Option<Object<SetShots>>,
    #[schema(value_type = Option<SetDays>)]
    days: Option<Object<SetDays>>,
    #[schema(value_type = Option<SetFinding>)]
    finding: Option<Object<SetFinding>>,
    /// Any of these incidents of the bow that the part was under, since the work was last done.
    #[serde(default)]
    #[schema(example = json!(["soaked"]), max_items = 20)]
    incidents: Vec<String>,
    /// Work that will be due before the next event of the bow is over is announced so many days before
    /// the event begins.
    #[schema(example = 14, minimum = 1, maximum = 90)]
    event_notice_days: Option<i64>,
    /// For `check_settling`: the shots of a new part at which it is checked, in rising order.
    #[schema(example = json!([]), max_items = 20)]
    checks_at_shots: Option<Vec<i64>>,
    /// In force from this day on; absent means at once.
    #[schema(format = Date, example = "2026-01-31")]
    effective_on: Option<String>,
    /// On what ground; absent means that the club set it.
    #[schema(example = "our string maker's advice", max_length = 200)]
    source: Option<String>,
    /// Why a string may go on for 60,000 shots or more; stands in the source.
    #[schema(max_length = 200)]
    override_reason: Option<String>,
}

fn part_kinds() -> RefOr<Schema> {
    one_of(PartKind::ALL.iter().map(|kind| kind.as_str()))
}

pub(super) fn combines() -> RefOr<Schema> {
    one_of(Combine::ALL.iter().map(|combine| combine.as_str()))
}

fn tasks() -> RefOr<Schema> {
    one_of(RuleTask::ALL.iter().map(|task| task.as_str()))
}

impl AddRule {
    /// The rule, added by a member of the club; nothing of it is written.
    pub(super) fn parse(
        self,
        club: &Club,
        (by, now): (MemberId, Timestamp),
    ) -> Result<Rule, ApiError> {
        let mut fields = Fields::default();
        let kind = fields.word("/part_kind", &self.part_kind, PartKind::parse, PartKind::ALL);
        let task = fields.word("/task", &self.task, RuleTask::parse, RuleTask::ALL);
        let scope = match &self.scope {
            Some(Object(scope)) => scope.parse(&mut fields, kind),
            None => Some(Scope::Club),
        };
        let today = club.zone.date_of(now);
        let effective_on = effective_on(&mut fields, self.effective_on.as_deref(), today);
        let mut asked = AskedLimits {
            combine: combine(&mut fields, self.combine.as_deref()),
            shots: self.shots.map(|Object(shots)| AskedShots::from(shots)),
            days: self.days.map(|Object(days)| AskedDays::from(days)),
            finding: self.finding.map(|Object(finding)| finding.parse(&mut fields)),
            incidents: incidents(&mut fields, &self.incidents),
            event_notice_days: self.event_notice_days,
            checks_at: self.checks_at_shots.unwrap_or_default(),
            overridden: false,
        };
        let ground = Ground { source: self.source, override_reason: self.override_reason };
        let source = ground.parse(&mut fields, &mut asked);
        let limits = kind
            .zip(task)
            .and_then(|(kind, task)| take(&mut fields, Limits::new(kind, task, &asked)));
        let built = || {
            Some(Rule {
                id: fresh_id::<RuleId>(now),
                part_kind: kind?,
                task: task?,
                scope: scope?,
                limits: limits?,
                effective_on: effective_on?,
                version: 1,
                provenance: Provenance { set_at: now, set_by: Some(by), source: source? },
            })
        };
        fields.finish(built())
    }
}

/// Refuses a second rule for the same work and scope.
pub(super) fn refuse_second(there: Option<RuleId>) -> Result<(), ApiError> {
    let Some(there) = there else { return Ok(()) };
    let detail = format!("rule {there} is for this work on such parts; change that one");
    Err(ApiError::Conflict { code: "already_there", detail })
}

/// Add a rule. There is one for each kind of part, work and scope.
#[utoipa::path(
    operation_id = "add_rule",
    tag = "rules",
    request_body = AddRule,
    responses((status = 201, description = "Added", body = RuleBody))
)]
#[post("/rules")]
pub(crate) async fn add_rule(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<AddRule>,
) -> Result<HttpResponse, ApiError> {
    who.owns_the_club()?;
    let (Body(body, once), now) = (body, api.now());
    api.write_once(who, once, move |tx| {
        let club = store::clubs::get(tx, who.club)?;
        let rule = body.parse(&club, (who.member, now))?;
        let Rule { part_kind, task, ref scope, .. } = rule;
        is_of_the_club(tx, who, (scope, part_kind))?;
        let work = (part_kind, task, scope);
        refuse_second(store::rules::of_work_to_change(tx, who.club, work)?)?;
        store::rules::add(tx, who.club, &rule)?;
        let (path, version) = (format!("/rules/{}", rule.id), rule.version);
        let (id, body) = (rule.id, RuleBody::from(rule));
        who.record(tx, now, Changed::of("add_rule", Subject::Rule, id.0).after(&body)?)?;
        Ok(Answer::created(&body)?.at(&path).version(version))
    })
    .await
}
