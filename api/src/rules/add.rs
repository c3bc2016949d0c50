//! Adding a rule to the book.

use actix_web::{HttpResponse, post, web};
use domain::{
    ids::{MemberId, RuleId},
    parts::PartKind,
    rules::{AskedDays, AskedLimits, AskedShots, Limits, Provenance, Rule, RuleTask},
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
    limits::{Ground, SetDays, SetShots, take},
};
use crate::{
    answer::Answer, auth::SignedIn, body::Body, error::ApiError, fields::Fields, object::Object,
    openapi::one_of, server::Api,
};

/// A rule to be added.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct AddRule {
    #[schema(schema_with = part_kinds)]
    part_kind: String,
    #[schema(schema_with = tasks)]
    task: String,
    #[schema(value_type = Option<SetShots>)]
    shots: Option<Object<SetShots>>,
    #[schema(value_type = Option<SetDays>)]
    days: Option<Object<SetDays>>,
    /// For `check_settling`: the shots of a new part at which it is checked, in rising order.
    #[schema(example = json!([]), max_items = 20)]
    checks_at_shots: Option<Vec<i64>>,
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

fn tasks() -> RefOr<Schema> {
    one_of(RuleTask::ALL.iter().map(|task| task.as_str()))
}

impl AddRule {
    fn parse(self, by: MemberId, now: Timestamp) -> Result<Rule, ApiError> {
        let mut fields = Fields::default();
        let kind = fields.word("/part_kind", &self.part_kind, PartKind::parse, PartKind::ALL);
        let task = fields.word("/task", &self.task, RuleTask::parse, RuleTask::ALL);
        let mut asked = AskedLimits {
            shots: self.shots.map(|Object(shots)| AskedShots::from(shots)),
            days: self.days.map(|Object(days)| AskedDays::from(days)),
            checks_at: self.checks_at_shots.unwrap_or_default(),
            overridden: false,
        };
        let ground = Ground { source: self.source, override_reason: self.override_reason };
        let source = ground.parse(&mut fields, &mut asked);
        let limits = kind
            .zip(task)
            .and_then(|(kind, task)| take(&mut fields, Limits::new(kind, task, &asked)));
        let built = || {
            let Limits { shots, days, checks_at } = limits?;
            Some(Rule {
                id: fresh_id::<RuleId>(now),
                part_kind: kind?,
                task: task?,
                shots,
                days,
                checks_at,
                version: 1,
                provenance: Provenance { set_at: now, set_by: Some(by), source: source? },
            })
        };
        fields.finish(built())
    }
}

/// Add a rule. There is one for each kind of part and work.
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
        let rule = body.parse(who.member, now)?;
        let there = store::rules::of_work_to_change(tx, who.club, rule.part_kind, rule.task)?;
        if let Some(there) = there {
            let detail = format!("rule {there} is for this work on such parts; change that one");
            return Err(ApiError::Conflict { code: "already_there", detail });
        }
        store::rules::add(tx, who.club, &rule)?;
        let (path, version) = (format!("/rules/{}", rule.id), rule.version);
        Ok(Answer::created(&RuleBody::from(rule))?.at(&path).version(version))
    })
    .await
}
