//! Changing a rule, and taking one out of the book.

use actix_web::{HttpResponse, delete, patch, web};
use domain::{
    audit::Subject,
    clubs::Club,
    ids::{MemberId, RuleId},
    rules::{AskedLimits, Limits, Provenance, Rule},
};
use jiff::Timestamp;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{
    RuleBody,
    add::combines,
    limits::{ChangeDays, ChangeShots, Ground, SetFinding, combine, effective_on, incidents, take},
};
use crate::{
    answer::Answer,
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::Fields,
    object::Object,
    paging::{NoQuery, Query},
    patch::Clearable,
    server::Api,
    versions::IfMatch,
};

/// A change of a rule's limits: a merge patch (RFC 7396). What a rule is for does not change.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeRule {
    /// Null takes all limits in shots away.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<ChangeShots>)]
    shots: Clearable<Object<ChangeShots>>,
    /// Null takes all limits by the calendar away.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<ChangeDays>)]
    days: Clearable<Object<ChangeDays>>,
    /// As at adding a rule; null takes the trigger away.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<SetFinding>)]
    finding: Clearable<Object<SetFinding>>,
    #[serde(default, deserialize_with = "crate::patch::replacement")]
    #[schema(example = json!(["soaked"]), max_items = 20, nullable = false)]
    incidents: Option<Vec<String>>,
    #[serde(default, deserialize_with = "crate::patch::replacement")]
    #[schema(schema_with = combines)]
    combine: Option<String>,
    /// Null means no notice for events.
    #[serde(default, deserialize_with = "crate::patch::change")]
    #[schema(value_type = Option<i64>, example = 14, minimum = 1, maximum = 90)]
    event_notice_days: Clearable<i64>,
    #[serde(default, deserialize_with = "crate::patch::replacement")]
    #[schema(max_items = 20, nullable = false)]
    checks_at_shots: Option<Vec<i64>>,
    /// In force from this day on; absent means at once. A setting that was to come into force later is
    /// superseded.
    #[schema(format = Date, example = "2026-01-31")]
    effective_on: Option<String>,
    /// On what ground; absent means that the club set it.
    #[schema(example = "our string maker's advice", max_length = 200)]
    source: Option<String>,
    /// Why a string may go on for 60,000 shots or more; stands in the source.
    #[schema(max_length = 200)]
    override_reason: Option<String>,
}

impl ChangeRule {
    /// The rule as it is asked for. Whoever changes anything of it signs for all of it.
    pub(super) fn of(
        self,
        rule: &Rule,
        club: &Club,
        (by, now): (MemberId, Timestamp),
    ) -> Result<Rule, ApiError> {
        let mut fields = Fields::default();
        let today = club.zone.date_of(now);
        let effective_on = effective_on(&mut fields, self.effective_on.as_deref(), today);
        let before = AskedLimits::from(&rule.limits);
        let mut asked = AskedLimits {
            combine: self.combine.map_or(before.combine, |word| combine(&mut fields, Some(&word))),
            shots: match self.shots {
                None => before.shots,
                Some(None) => None,
                Some(Some(Object(change))) => Some(change.of(before.shots, &mut fields)),
            },
            days: match self.days {
                None => before.days,
                Some(None) => None,
                Some(Some(Object(change))) => Some(change.of(before.days)),
            },
            finding: match self.finding {
                None => before.finding,
                Some(None) => None,
                Some(Some(Object(finding))) => Some(finding.parse(&mut fields)),
            },
            incidents: self
                .incidents
                .map_or(before.incidents, |typed| incidents(&mut fields, &typed)),
            event_notice_days: self.event_notice_days.unwrap_or(before.event_notice_days),
            checks_at: self.checks_at_shots.unwrap_or(before.checks_at),
            overridden: false,
        };
        let ground = Ground { source: self.source, override_reason: self.override_reason };
        let source = ground.parse(&mut fields, &mut asked);
        let limits = take(&mut fields, Limits::new(rule.part_kind, rule.task, &asked));
        let changed = || {
            let provenance = Provenance { set_at: now, set_by: Some(by), source: source? };
            let (limits, effective_on) = (limits?, effective_on?);
            Some(Rule { limits, effective_on, provenance, ..rule.clone() })
        };
        fields.finish(changed())
    }
}

/// Change a rule's limits. It then stands as set by who changed it.
#[utoipa::path(
    operation_id = "change_rule",
    tag = "rules",
    params(("id" = Uuid, Path, description = "The rule")),
    request_body = ChangeRule,
    responses((status = 200, description = "The rule as it is now", body = RuleBody))
)]
#[patch("/rules/{id}")]
pub(crate) async fn change_rule(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    if_match: IfMatch,
    body: Body<ChangeRule>,
) -> Result<HttpResponse, ApiError> {
    who.owns_the_club()?;
    let (id, body, now) = (RuleId(id.into_inner()), body.0, api.now());
    let answer = api.store.write(move |tx| {
        let rule = store::rules::get(tx, who.club, id)?;
        if_match.check(rule.version)?;
        let club = store::clubs::get(tx, who.club)?;
        let asked = body.of(&rule, &club, (who.member, now))?;
        let changed = Changed::of("change_rule", Subject::Rule, id.0);
        let changed = changed.before(&RuleBody::from(rule))?;
        let rule = store::rules::change(tx, who.club, &asked)?;
        let (version, body) = (rule.version, RuleBody::from(rule));
        who.record(tx, now, changed.after(&body)?)?;
        Ok::<_, ApiError>(Answer::ok(&body)?.version(version))
    });
    Ok(answer.await?.respond())
}

/// Take a rule out of the book. What it said until now stays on record, and explains what was judged
/// by it.
#[utoipa::path(
    operation_id = "remove_rule",
    tag = "rules",
    params(("id" = Uuid, Path, description = "The rule")),
    responses((status = 204, description = "It is gone"))
)]
#[delete("/rules/{id}")]
pub(crate) async fn remove_rule(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
    if_match: IfMatch,
) -> Result<HttpResponse, ApiError> {
    who.owns_the_club()?;
    let (id, now) = (RuleId(id.into_inner()), api.now());
    let removed = api.store.write(move |tx| {
        let mut rule = store::rules::get(tx, who.club, id)?;
        if_match.check(rule.version)?;
        let removed = Changed::of("remove_rule", Subject::Rule, id.0);
        who.record(tx, now, removed.before(&RuleBody::from(rule.clone()))?)?;
        (rule.provenance.set_by, rule.provenance.set_at) = (Some(who.member), now);
        rule.effective_on = None;
        store::rules::withdraw(tx, who.club, &rule).map_err(ApiError::from)
    });
    removed.await?;
    Ok(Answer::nothing().respond())
}
