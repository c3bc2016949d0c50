//! What the club's members were reminded of.

use actix_web::{get, web};
use domain::{
    ids::{BowId, MemberId},
    mail::MailState,
    reminders::ReminderState,
};
use serde::Deserialize;
use store::reminders::Filter;
use utoipa::{
    IntoParams,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use super::body::ReminderBody;
use crate::{
    auth::SignedIn,
    error::ApiError,
    fields::Fields,
    openapi::one_of,
    paging::{ListBody, Query, page},
    server::Api,
};

/// Which reminders.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct RemindersQuery {
    /// Only those that stand so.
    #[param(schema_with = states)]
    state: Option<String>,
    /// Only those whose mail has come so far: `dead` is what a person has to look at.
    #[param(schema_with = mail_states)]
    mail_state: Option<String>,
    /// Only those about this bow.
    bow_id: Option<Uuid>,
    /// Only those to this member.
    member_id: Option<Uuid>,
    /// How many rows at most; more than 200 means 200.
    #[param(minimum = 1, example = 50)]
    limit: Option<i64>,
    /// The `next_cursor` of the page before.
    cursor: Option<String>,
}

fn states() -> RefOr<Schema> {
    one_of(ReminderState::ALL.iter().map(|state| state.as_str()))
}

fn mail_states() -> RefOr<Schema> {
    one_of(MailState::ALL.iter().map(|state| state.as_str()))
}

impl RemindersQuery {
    fn filter(&self) -> Result<Filter, ApiError> {
        let mut fields = Fields::default();
        let state = self
            .state
            .as_deref()
            .map(|word| fields.word("/state", word, ReminderState::parse, ReminderState::ALL));
        let mail_state = self
            .mail_state
            .as_deref()
            .map(|word| fields.word("/mail_state", word, MailState::parse, MailState::ALL));
        fields.finish(Some(Filter {
            state: state.flatten(),
            mail_state: mail_state.flatten(),
            bow: self.bow_id.map(BowId),
            recipient: self.member_id.map(MemberId),
        }))
    }
}

/// Reminders of the club to whom one reaches, with the mail that carries each: an owner sees all, a coach
/// their own and those of their archers, an archer their own.
#[utoipa::path(
    operation_id = "list_reminders",
    tag = "reminders",
    params(RemindersQuery),
    responses((status = 200, description = "A page of reminders", body = ListBody<ReminderBody>))
)]
#[get("/reminders")]
pub(crate) async fn list_reminders(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<RemindersQuery>,
) -> Result<web::Json<ListBody<ReminderBody>>, ApiError> {
    let Query(query) = query;
    let (filter, page) = (query.filter()?, page(query.limit, query.cursor.as_deref())?);
    let found = api.store.read(move |read| {
        if let Some(bow) = filter.bow {
            let bow = store::bows::get(read, who.club, bow)?;
            who.may_tend(read, &bow)?;
        }
        if let Some(member) = filter.recipient {
            store::members::get(read, who.club, member)?;
        }
        let reach = who.reach(read)?;
        let listed = store::reminders::list(read, who.club, &reach, &filter, page)?;
        Ok::<_, ApiError>(ReminderBody::some(read, who, listed)?)
    });
    Ok(web::Json(ListBody::of(found.await?, page, |one: &ReminderBody| one.id, |one| one)))
}
