//! Reading the rule book.

use actix_web::{HttpResponse, get, web};
use domain::{ids::RuleId, rules::Setting};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::RuleBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    paging::{ListBody, NoQuery, Query},
    server::Api,
    versions::versioned,
};

/// The whole rule book, in the order it was written: of each rule its last setting, whether that is in
/// force yet or comes into force later.
#[utoipa::path(
    operation_id = "list_rules",
    tag = "rules",
    responses((status = 200, description = "The rules", body = ListBody<RuleBody>))
)]
#[get("/rules")]
pub(crate) async fn list_rules(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
) -> Result<web::Json<ListBody<RuleBody>>, ApiError> {
    let book = api.store.read(move |read| store::rules::book(read, who.club)).await?;
    Ok(web::Json(ListBody::whole(book.last().into_iter().map(RuleBody::from).collect())))
}

/// One rule, with its version as an `ETag`.
#[utoipa::path(
    operation_id = "get_rule",
    tag = "rules",
    params(("id" = Uuid, Path, description = "The rule")),
    responses((status = 200, description = "The rule", body = RuleBody))
)]
#[get("/rules/{id}")]
pub(crate) async fn get_rule(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let id = RuleId(id.into_inner());
    let rule = api.store.read(move |read| store::rules::get(read, who.club, id)).await?;
    let version = rule.version;
    Ok(versioned(&RuleBody::from(rule), version))
}

/// One setting of a rule.
#[derive(Serialize, ToSchema)]
pub(crate) struct SettingBody {
    /// The rule as it was set.
    rule: RuleBody,
    /// The rule was taken out of the book by it.
    withdrawn: bool,
}

/// Every setting that a rule had, the first one first: who set what, when and on what ground.
#[utoipa::path(
    operation_id = "list_settings",
    tag = "rules",
    params(("id" = Uuid, Path, description = "The rule")),
    responses((status = 200, description = "Its settings", body = ListBody<SettingBody>))
)]
#[get("/rules/{id}/settings")]
pub(crate) async fn list_settings(
    api: web::Data<Api>,
    who: SignedIn,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<web::Json<ListBody<SettingBody>>, ApiError> {
    let id = RuleId(id.into_inner());
    let settings = api.store.read(move |read| store::rules::history(read, who.club, id)).await?;
    let body = |setting: Setting| SettingBody {
        withdrawn: setting.withdrawn,
        rule: RuleBody::from(setting.rule),
    };
    Ok(web::Json(ListBody::whole(settings.into_iter().map(body).collect())))
}
