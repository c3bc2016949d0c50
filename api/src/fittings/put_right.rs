//! Putting fittings right: dates that were entered late or wrong, and a fitting that never was.

use actix_web::{HttpResponse, delete, patch, web};
use domain::{
    audit::Subject,
    fittings::{Fitting, FittingError},
    ids::FittingId,
};
use jiff::Timestamp;
use serde::Deserialize;
use store::StoreError;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{
    FittingBody,
    reach::{bow_of, may_put_right},
};
use crate::{
    answer::Answer,
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::{FieldError, Fields},
    paging::{NoQuery, Query},
    patch::{Clearable, change, replacement, stays, stays_or_clears},
    server::Api,
    versions::IfMatch,
    within_reach,
};

/// The times that a fitting should have had, as a merge patch: what is absent stays as it is.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeFitting {
    #[serde(default, deserialize_with = "replacement")]
    #[schema(example = "2026-01-10T09:00:00Z", format = DateTime, nullable = false)]
    from: Option<String>,
    /// Null means that the part is still there.
    #[serde(default, deserialize_with = "change")]
    #[schema(value_type = Option<String>, example = "2026-01-24T18:30:00Z", format = DateTime)]
    to: Clearable<String>,
}

impl ChangeFitting {
    /// Which field a stay that would end before it begins is the fault of.
    const fn ends_too_early(&self) -> &'static str {
        if self.to.is_some() { "/to" } else { "/from" }
    }

    fn apply(self, before: &Fitting, now: Timestamp) -> Result<Fitting, ApiError> {
        let mut fields = Fields::default();
        let from = stays(self.from, &before.from, |text| fields.past("/from", &text, now));
        let to =
            stays_or_clears(self.to, before.to.as_ref(), |text| fields.past("/to", &text, now));
        let built = || Some(Fitting { from: from?, to: to?, ..*before });
        fields.finish(built())
    }
}

/// Why a stay cannot be moved so: an answer, or what the domain says, which names a field of this body.
enum Refused {
    Answered(ApiError),
    Contradicts(FittingError),
}

impl From<StoreError> for Refused {
    fn from(error: StoreError) -> Self {
        Self::Answered(error.into())
    }
}

impl From<FittingError> for Refused {
    fn from(error: FittingError) -> Self {
        Self::Contradicts(error)
    }
}

impl Refused {
    fn naming(self, ends_too_early: &str) -> ApiError {
        let error = match self {
            Self::Answered(error) => return error,
            Self::Contradicts(error) => error,
        };
        let (pointer, code, detail) = match error {
            FittingError::BeforeFitted(_) => (ends_too_early, "before_fitted", error.to_string()),
            FittingError::BeforeMade(_) => ("/from", "before_made", error.to_string()),
            FittingError::HostBeforeMade(_) => ("/from", "host_before_made", error.to_string()),
            FittingError::PartElsewhere { from } => {
                let detail = format!("the part was fitted from {from} on; the two would overlap");
                return ApiError::Conflict { code: "part_fitted_elsewhere", detail };
            }
            other => return other.into(),
        };
        ApiError::Invalid(vec![FieldError::new(pointer, code, detail)])
    }
}

/// Put the times of a fitting right: one that was entered late, or with a wrong date. What was logged in
/// between counts anew. For whoever may look after the part and the bow that it was fitted to; an archer
/// may not date it so that something that must not be shot would be free.
#[utoipa::path(
    operation_id = "change_fitting",
    tag = "parts",
    params(("id" = Uuid, Path, description = "The fitting")),
    request_body = ChangeFitting,
    responses((status = 200, description = "As it is now", body = FittingBody))
)]
#[patch("/fittings/{id}")]
pub(crate) async fn change_fitting(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    id: web::Path<Uuid>,
    body: Body<ChangeFitting>,
) -> Result<HttpResponse, ApiError> {
    let (id, body, now) = (FittingId(id.into_inner()), body.0, api.now());
    let changed = api.store.write(move |tx| {
        let before = store::fittings::get(tx, who.club, id)?;
        may_put_right(tx, who, &before)?;
        of.check(before.version)?;
        let ends_too_early = body.ends_too_early();
        let after = body.apply(&before, now)?;
        if after == before {
            return Ok(Answer::ok(&FittingBody::from(before))?.version(before.version));
        }
        let after = within_reach::keeping_stops(tx, who, |tx| {
            store::fittings::change::<Refused>(tx, who.club, &after)
                .map_err(|refused| refused.naming(ends_too_early))
        })?;
        let body = FittingBody::from(after);
        let changed = Changed::of("change_fitting", Subject::Fitting, id.0);
        let changed = changed.about(bow_of(tx, who, &after)?);
        who.record(tx, now, changed.before(&FittingBody::from(before))?.after(&body)?)?;
        Ok::<_, ApiError>(Answer::ok(&body)?.version(after.version))
    });
    Ok(changed.await?.respond())
}

/// Take a fitting off the record that was entered by mistake: the part was never there. For whoever may
/// change it; a part that came off is taken off instead, with the time at which it did.
#[utoipa::path(
    operation_id = "remove_fitting",
    tag = "parts",
    params(("id" = Uuid, Path, description = "The fitting")),
    responses((status = 204, description = "It is off the record"))
)]
#[delete("/fittings/{id}")]
pub(crate) async fn remove_fitting(
    api: web::Data<Api>,
    who: SignedIn,
    of: IfMatch,
    _none: Query<NoQuery>,
    id: web::Path<Uuid>,
) -> Result<HttpResponse, ApiError> {
    let (id, now) = (FittingId(id.into_inner()), api.now());
    let removed = api.store.write(move |tx| {
        let fitting = store::fittings::get(tx, who.club, id)?;
        may_put_right(tx, who, &fitting)?;
        of.check(fitting.version)?;
        let removed = Changed::of("remove_fitting", Subject::Fitting, id.0);
        let removed = removed.about(bow_of(tx, who, &fitting)?);
        within_reach::keeping_stops(tx, who, |tx| {
            store::fittings::remove(tx, who.club, &fitting).map_err(ApiError::from)
        })?;
        who.record(tx, now, removed.before(&FittingBody::from(fitting))?)
    });
    removed.await?;
    Ok(Answer::nothing().respond())
}
