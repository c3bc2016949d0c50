//! Changing a rule, and taking one out of the book.

use actix_web::{HttpResponse, delete, patch, web};
use domain::{
    ids::{MemberId, RuleId},
    rules::{AskedDays, AskedLimits, AskedShots, Limits, Provenance, Rule},
};
use jiff::Timestamp;
use serde::Deserialize;
use store::StoreError;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{
    RuleBody,
    limits::{ChangeDays, ChangeShots, Ground, take},
};
use crate::{
    answer::Answer,
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
    #[serde(default, deserialize_with = "crate::patch::replacement")]
    #[schema(max_items = 20, nullable = false)]
    checks_at_shots: Option<Vec<i64>>,
    /// On what ground; absent means that the club set it.
    #[schema(example = "our string maker's advice", max_length = 200)]
    source: Option<String>,
    /// Why a string may go on for 60,000 shots or more; stands in the source.
    #[schema(max_length = 200)]
    override_reason: Option<String>,
}

impl ChangeRule {
    /// The rule as it is asked for. Whoever changes anything of it signs for all of it.
    fn of(self, rule: &Rule, by: MemberId, now: Timestamp) -> Result<Rule, ApiError> {
        let mut fields = Fields::default();
        let (shots, days) = (rule.shots.map(AskedShots::from), rule.days.map(AskedDays::from));
        let mut asked = AskedLimits {
            shots: match self.shots {
                None => shots,
                Some(None) => None,
                Some(Some(Object(change))) => Some(change.of(shots, &mut fields)),
            },
            days: match self.days {
                None => days,
                Some(None) => None,
                Some(Some(Object(change))) => Some(change.of(days)),
            },
            checks_at: self
                .checks_at_shots
                .unwrap_or_else(|| rule.checks_at.iter().copied().map(i64::from).collect()),
            overridden: false,
        };
        let ground = Ground { source: self.source, override_reason: self.override_reason };
        let source = ground.parse(&mut fields, &mut asked);
        let limits = take(&mut fields, Limits::new(rule.part_kind, rule.task, &asked));
        let changed = || {
            let Limits { shots, days, checks_at } = limits?;
            let provenance = Provenance { set_at: now, set_by: Some(by), source: source? };
            Some(Rule { shots, days, checks_at, provenance, ..*rule })
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
        let rule = store::rules::change(tx, who.club, &body.of(&rule, who.member, now)?)?;
        let version = rule.version;
        Ok::<_, ApiError>(Answer::ok(&RuleBody::from(rule))?.version(version))
    });
    Ok(answer.await?.respond())
}

/// Take a rule out of the book. One that somebody was reminded by stays: its limits can be raised.
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
    let id = RuleId(id.into_inner());
    let removed = api.store.write(move |tx| {
        let rule = store::rules::get(tx, who.club, id)?;
        if_match.check(rule.version)?;
        store::rules::remove(tx, who.club, &rule).map_err(in_use)
    });
    removed.await?;
    Ok(Answer::nothing().respond())
}

fn in_use(error: StoreError) -> ApiError {
    let StoreError::InUse { .. } = error else { return error.into() };
    let detail =
        "somebody was reminded by this rule, so it stays on record; raise its limits instead";
    ApiError::Conflict { code: "in_use", detail: detail.to_owned() }
}
