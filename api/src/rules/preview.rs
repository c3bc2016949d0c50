//! What a change of the rule book would do, before anything of it is written.

use std::collections::BTreeMap;

use actix_web::{post, web};
use domain::{
    clubs::Club,
    ids::{MemberId, PartId, RuleId},
    rules::{Condition, Rule, RuleBook, Setting},
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use store::{Read, due::Judged};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{
    RuleBody,
    add::{AddRule, refuse_second},
    change::ChangeRule,
    scope::is_of_the_club,
};
use crate::{
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::{Fields, below},
    object::Object,
    server::Api,
};

/// A change of the rule book: one of the three.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PreviewRule {
    /// A rule to be added.
    #[schema(value_type = Option<AddRule>)]
    add: Option<Object<AddRule>>,
    /// A rule to be changed, together with `rule_id`.
    #[schema(value_type = Option<ChangeRule>)]
    change: Option<Object<ChangeRule>>,
    /// The rule that `change` is for; without it, the rule that would be taken out of the book.
    rule_id: Option<Uuid>,
}

/// What a change would do.
#[derive(Serialize, ToSchema)]
pub(crate) struct PreviewBody {
    /// The rule as it would be; null if it would be out of the book.
    rule: Option<RuleBody>,
    /// How many parts in use the club has.
    #[schema(example = 68)]
    parts: usize,
    /// Those that would be judged in another way.
    changed: Vec<ChangedPartBody>,
    /// How many parts would be in each condition, before and after.
    conditions: Vec<ConditionCountBody>,
}

/// A part that would be judged in another way.
#[derive(Serialize, ToSchema)]
pub(crate) struct ChangedPartBody {
    part_id: Uuid,
    #[schema(example = "Blue 20-strand")]
    name: String,
    bow_id: Option<Uuid>,
    #[schema(example = "Blue recurve")]
    bow: Option<String>,
    before: JudgedBody,
    after: JudgedBody,
}

/// What a part is said to be.
#[derive(Serialize, PartialEq, Eq, ToSchema)]
pub(crate) struct JudgedBody {
    #[schema(example = "due")]
    condition: &'static str,
    #[schema(example = "wax the string: 520 shots since last waxed; plan 500")]
    reason: String,
}

/// How many parts are in a condition.
#[derive(Serialize, ToSchema)]
pub(crate) struct ConditionCountBody {
    #[schema(example = "due")]
    condition: &'static str,
    #[schema(example = 3)]
    before: usize,
    #[schema(example = 5)]
    after: usize,
}

impl PreviewRule {
    /// The setting that is asked about.
    fn parse(
        self,
        read: &mut Read<'_>,
        who: SignedIn,
        club: &Club,
        now: Timestamp,
    ) -> Result<Setting, ApiError> {
        let signed = (who.member, now);
        match (self.add, self.change, self.rule_id.map(RuleId)) {
            (Some(Object(add)), None, None) => {
                let rule = below("/add", add.parse(club, signed))?;
                let Rule { part_kind, task, ref scope, .. } = rule;
                below("/add", is_of_the_club(read, who, (scope, part_kind)))?;
                let same = store::rules::of_work(read, who.club, (part_kind, task, scope))?;
                refuse_second(same)?;
                Ok(Setting { rule, withdrawn: false })
            }
            (None, Some(Object(change)), Some(id)) => {
                let rule = store::rules::get(read, who.club, id)?;
                let rule = below("/change", change.of(&rule, club, signed))?;
                Ok(Setting { rule: next(rule, signed), withdrawn: false })
            }
            (None, None, Some(id)) => {
                let rule = store::rules::get(read, who.club, id)?;
                Ok(Setting { rule: next(rule, signed), withdrawn: true })
            }
            _ => {
                let mut fields = Fields::default();
                let detail = "give add, or change with rule_id, or rule_id alone to take it out";
                fields.refuse("", "one_of_three", detail);
                fields.finish(None)
            }
        }
    }
}

/// The setting after one.
fn next(rule: Rule, (by, now): (MemberId, Timestamp)) -> Rule {
    let mut next = Rule { version: rule.version + 1, ..rule };
    (next.provenance.set_by, next.provenance.set_at) = (Some(by), now);
    next
}

impl PreviewBody {
    /// What a setting would do; `before` and `after` are the parts of the club without it and with it.
    fn of(setting: Setting, before: &[Judged], after: &[Judged]) -> Self {
        let after_by_part: BTreeMap<PartId, &Judged> =
            after.iter().map(|one| (one.record.part.id, one)).collect();
        let changed = before
            .iter()
            .filter_map(|one| ChangedPartBody::of(one, after_by_part.get(&one.record.part.id)?));
        let count = |of: &[Judged], condition: Condition| {
            of.iter().filter(|one| one.assessment.condition == condition).count()
        };
        let conditions = Condition::ALL.iter().map(|&condition| ConditionCountBody {
            condition: condition.as_str(),
            before: count(before, condition),
            after: count(after, condition),
        });
        let conditions = conditions.filter(|one| one.before + one.after > 0).collect();
        let (parts, changed) = (before.len(), changed.collect());
        let rule = (!setting.withdrawn).then(|| RuleBody::from(setting.rule));
        Self { rule, parts, changed, conditions }
    }
}

impl ChangedPartBody {
    fn of(before: &Judged, after: &Judged) -> Option<Self> {
        let judged = |one: &Judged| JudgedBody {
            condition: one.assessment.condition.as_str(),
            reason: one.assessment.reason.clone(),
        };
        let (part, bow) = (&before.record.part, before.bow.as_ref());
        let same = before.assessment.condition == after.assessment.condition
            && before.assessment.reason == after.assessment.reason;
        (!same).then(|| Self {
            part_id: part.id.0,
            name: part.name.to_string(),
            bow_id: bow.map(|bow| bow.id.0),
            bow: bow.map(|bow| bow.name.to_string()),
            before: judged(before),
            after: judged(after),
        })
    }
}

/// What a change of the rule book would do to every part, as things stand today. Nothing is written.
#[utoipa::path(
    operation_id = "preview_rule",
    tag = "rules",
    request_body = PreviewRule,
    responses((status = 200, description = "What it would do", body = PreviewBody))
)]
#[post("/rules/preview")]
pub(crate) async fn preview_rule(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<PreviewRule>,
) -> Result<web::Json<PreviewBody>, ApiError> {
    who.owns_the_club()?;
    // Sent again it does no harm, so its key is not kept.
    let (Body(body, _once), now) = (body, api.now());
    let preview = api.store.read(move |read| {
        let club = store::clubs::get(read, who.club)?;
        let setting = body.parse(read, who, &club, now)?;
        let book = store::rules::book(read, who.club)?;
        let at_once = Rule { effective_on: None, ..setting.rule.clone() };
        let with = book.with(Setting { rule: at_once, withdrawn: setting.withdrawn });
        let mut judged = |book: &RuleBook| {
            store::due::of_club_by(read, &club, book.in_force(now, &club.zone), now)
        };
        let (before, after) = (judged(&book)?, judged(&with)?);
        Ok::<_, ApiError>(PreviewBody::of(setting, &before, &after))
    });
    Ok(web::Json(preview.await?))
}
