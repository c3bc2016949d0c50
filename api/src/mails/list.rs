//! What became of mails.

use actix_web::{get, web};
use domain::mail::{MailKind, MailState};
use serde::{Deserialize, Serialize};
use store::mails::Filter;
use utoipa::{
    IntoParams, ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use crate::{
    auth::SignedIn,
    error::ApiError,
    fields::Fields,
    openapi::one_of,
    paging::{ListBody, Query, page},
    reminders::CarriedBy,
    server::Api,
};

/// Which mails.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct MailsQuery {
    /// Only those that have come so far: `dead` is what a person has to look at.
    #[param(schema_with = states)]
    state: Option<String>,
    /// Only those of this kind.
    #[param(schema_with = kinds)]
    kind: Option<String>,
    /// How many rows at most; more than 200 means 200.
    #[param(minimum = 1, example = 50)]
    limit: Option<i64>,
    /// The `next_cursor` of the page before.
    cursor: Option<String>,
}

fn states() -> RefOr<Schema> {
    one_of(MailState::ALL.iter().map(|state| state.as_str()))
}

fn kinds() -> RefOr<Schema> {
    one_of(MailKind::ALL.iter().map(|kind| kind.as_str()))
}

impl MailsQuery {
    fn filter(&self) -> Result<Filter, ApiError> {
        let mut fields = Fields::default();
        let state = self.state.as_deref();
        let state = state.map(|word| fields.word("/state", word, MailState::parse, MailState::ALL));
        let kind = self.kind.as_deref();
        let kind = kind.map(|word| fields.word("/kind", word, MailKind::parse, MailKind::ALL));
        fields.finish(Some(Filter { state: state.flatten(), kind: kind.flatten() }))
    }
}

/// A mail, and to whom it is.
#[derive(Serialize, ToSchema)]
pub(crate) struct MailBody {
    #[serde(flatten)]
    mail: CarriedBy,
    recipient_member_id: Uuid,
    #[schema(example = "Tobin Larkmoor")]
    recipient_name: String,
}

/// What became of the mails to whom one reaches, invitations and links to choose another password among
/// them: an owner sees all, a coach their own and those of their archers. What a mail says is not shown.
#[utoipa::path(
    operation_id = "list_mails",
    tag = "reminders",
    params(MailsQuery),
    responses((status = 200, description = "A page of mails", body = ListBody<MailBody>))
)]
#[get("/mails")]
pub(crate) async fn list_mails(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<MailsQuery>,
) -> Result<web::Json<ListBody<MailBody>>, ApiError> {
    who.looks_after_others()?;
    let Query(query) = query;
    let (filter, page) = (query.filter()?, page(query.limit, query.cursor.as_deref())?);
    let found = api.store.read(move |read| {
        let reach = who.reach(read)?;
        let posted = store::mails::list(read, who.club, &reach, filter, page)?;
        let names = store::members::names(read, who.club)?;
        let body = |one: &store::outbox::Posted| MailBody {
            mail: CarriedBy::from(one),
            recipient_member_id: one.mail.recipient.0,
            recipient_name: names.get(&one.mail.recipient).cloned().unwrap_or_default(),
        };
        Ok::<_, ApiError>(posted.iter().map(body).collect::<Vec<_>>())
    });
    Ok(web::Json(ListBody::of(found.await?, page, |one: &MailBody| one.mail.id, |one| one)))
}
