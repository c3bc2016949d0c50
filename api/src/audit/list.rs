//! Reading what was changed.

use actix_web::{get, web};
use domain::{
    ids::{BowId, MemberId},
    reach::Reach,
};
use serde::Deserialize;
use store::{Read, audit::Filter};
use utoipa::IntoParams;
use uuid::Uuid;

use super::body::ChangeBody;
use crate::{
    auth::SignedIn,
    days::Days,
    error::ApiError,
    fields::Fields,
    paging::{ListBody, Query, page},
    server::Api,
    within_reach,
};

/// Which changes.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct ChangesQuery {
    /// Only changes of this one thing: a bow, a log, a person, whatever has an id.
    subject_id: Option<Uuid>,
    /// Only changes about this bow, and of parts that were under it.
    bow_id: Option<Uuid>,
    /// Only changes that this member made.
    member_id: Option<Uuid>,
    /// Only changes by this operation, as this document calls it.
    #[param(example = "change_bow", max_length = 200)]
    operation: Option<String>,
    /// Only changes on this day of the club or later.
    #[param(example = "2026-01-01", format = Date)]
    from: Option<String>,
    /// Only changes on this day of the club or earlier.
    #[param(example = "2026-01-31", format = Date)]
    until: Option<String>,
    /// How many rows at most; more than 200 means 200.
    #[param(minimum = 1, example = 50)]
    limit: Option<i64>,
    /// The `next_cursor` of the page before.
    cursor: Option<String>,
}

impl ChangesQuery {
    fn days(&self) -> Result<(Days, Option<String>), ApiError> {
        let mut fields = Fields::default();
        let days = Days::parse(&mut fields, self.from.as_deref(), self.until.as_deref());
        // An operation is called by one line of text.
        let operation = self.operation.as_deref();
        let operation = operation.and_then(|name| fields.name("/operation", name));
        fields.finish(Some((days, operation.map(|name| name.to_string()))))
    }

    /// Those of them that somebody may read.
    fn filter(&self, read: &mut Read<'_>, who: SignedIn) -> Result<Filter, ApiError> {
        let (days, operation) = self.days()?;
        let (from, until) = days.bounds(&store::clubs::get(read, who.club)?.zone)?;
        let by = self.member_id.map(MemberId);
        if let Some(member) = by {
            store::members::get(read, who.club, member)?;
        }
        let bows = match self.bow_id.map(BowId) {
            Some(bow) => {
                let bow = store::bows::get(read, who.club, bow)?;
                who.may_tend(read, &bow)?;
                Some(vec![bow.id])
            }
            None if who.reach(read)? == Reach::Everybody => None,
            None => Some(within_reach::bows(read, who)?.into_keys().collect()),
        };
        Ok(Filter { subject_id: self.subject_id, bows, by, operation, from, until })
    }
}

/// Who changed what, when, from what to what; the last change first. Owners of the club read all of it,
/// everybody else what was changed about bows within their reach. Logs that were entered are their own
/// record and not here; what was corrected of them is.
#[utoipa::path(
    operation_id = "list_changes",
    tag = "audit",
    params(ChangesQuery),
    responses((status = 200, description = "A page of changes", body = ListBody<ChangeBody>))
)]
#[get("/audit")]
pub(crate) async fn list_changes(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<ChangesQuery>,
) -> Result<web::Json<ListBody<ChangeBody>>, ApiError> {
    let Query(query) = query;
    let page = page(query.limit, query.cursor.as_deref())?;
    let found = api.store.read(move |read| {
        let filter = query.filter(read, who)?;
        let changes = store::audit::list(read, who.club, &filter, page)?;
        changes.into_iter().map(ChangeBody::try_from).collect::<Result<Vec<_>, ApiError>>()
    });
    Ok(web::Json(ListBody::of(found.await?, page, |change| change.id, |change| change)))
}
