//! Answering a reminder by the link in its mail: what the page shows, and what its button does.

use actix_web::{HttpRequest, HttpResponse, get, http::StatusCode, post, web};
use domain::{
    mail::{Act, SNOOZE_DAYS},
    text,
};
use jiff::Timestamp;
use serde::Deserialize;
use store::{Tx, mail_links::open_act};
use utoipa::ToSchema;

use super::{
    form::{Form, unknown},
    page::{Page, not_ours, respond},
    seen::{Asked, NOW, Seen, see},
};
use crate::{
    auth::Net,
    error::ApiError,
    reminders::{Given, give, put_off},
    server::Api,
};

/// Who says so, where no more is told.
const BY_LINK: &str = "by the link in a mail";

/// What the form of the page sends.
#[derive(Deserialize, ToSchema)]
#[expect(dead_code, reason = "it is read field by field; this is how the document tells of it")]
pub(crate) struct AnswerForm {
    /// When the work was done: `now`, `yesterday` or `two_days_ago`, by the club's days; now, if absent.
    #[schema(example = "now")]
    when: Option<String>,
}

/// What the link in a mail would do. It changes nothing.
#[utoipa::path(
    operation_id = "show_answer",
    tag = "pages",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    responses(
        (status = 200, description = "A page with one button, or with what was answered before", content_type = "text/html"),
        (status = 404, description = "Not a link of ours", content_type = "text/html"),
        (status = 410, description = "The link has run out", content_type = "text/html")
    ),
    security(())
)]
#[get("/act/{token}")]
pub(crate) async fn show_answer(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
) -> HttpResponse {
    respond(show(&api, from, &token).await)
}

async fn show(api: &Api, from: Net, token: &str) -> Result<Page, ApiError> {
    let Some((club, link)) = open_act(&api.seals, token) else { return not_ours(api, from) };
    let now = api.now();
    let seen = api.store.read(move |read| {
        let listed = store::reminders::get(read, club, link.reminder)?;
        see(read, club, link, listed, now)
    });
    seen.await?.shown(link.act, now, StatusCode::OK)
}

/// Do what the link in a mail is for, as whom the mail was to.
#[utoipa::path(
    operation_id = "answer_by_link",
    tag = "pages",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    request_body(content = Option<AnswerForm>, content_type = "application/x-www-form-urlencoded"),
    responses(
        (status = 200, description = "Done now, or before", content_type = "text/html"),
        (status = 404, description = "Not a link of ours", content_type = "text/html"),
        (status = 409, description = "It is not true any more, and nothing was changed", content_type = "text/html"),
        (status = 410, description = "The link has run out", content_type = "text/html"),
        (status = 422, description = "Not what the page offers", content_type = "text/html")
    ),
    security(())
)]
#[post("/act/{token}")]
pub(crate) async fn answer_by_link(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
    request: HttpRequest,
    body: web::Payload,
) -> HttpResponse {
    respond(answer(&api, from, &token, (&request, body)).await)
}

async fn answer(
    api: &Api,
    from: Net,
    token: &str,
    (request, body): (&HttpRequest, web::Payload),
) -> Result<Page, ApiError> {
    let form = Form::read(request, body).await;
    let Some((club, link)) = open_act(&api.seals, token) else { return not_ours(api, from) };
    let (form, now) = (form?, api.now());
    form.only(&["when"])?;
    let when = form.get("when").map(str::to_owned);
    let answered = api.store.write(move |tx| {
        let listed = store::answers::get_to_answer(tx, club, link.reminder)?;
        match see(tx, club, link, listed, now)? {
            Seen::Open(open) => do_it(tx, &open, link.act, when.as_deref(), now),
            seen => Ok(seen),
        }
    });
    answered.await?.shown(link.act, now, StatusCode::CONFLICT)
}

/// Gives the answer; what is on record of it then.
fn do_it(
    tx: &mut Tx<'_>,
    open: &Asked,
    act: Act,
    when: Option<&str>,
    now: Timestamp,
) -> Result<Seen, ApiError> {
    let given = match act {
        Act::Done => {
            let when = when.unwrap_or(NOW);
            let whens = open.whens(now);
            let when = whens.iter().find(|one| one.word == when).ok_or_else(unknown)?;
            let note = text::Note::parse(BY_LINK).unwrap_or_default();
            Given::Done { at: when.at, note }
        }
        Act::Snooze => Given::Snooze { until: put_off(now, SNOOZE_DAYS).ok_or_else(unknown)? },
        Act::NotMine => Given::NotMine,
    };
    give(tx, open.who, &open.open, given, now, "answer_by_link")?;
    let listed = Box::new(store::reminders::get(tx, open.who.club, open.open.listed.reminder.id)?);
    let place = open.place.clone();
    Ok(Seen::Used { place, listed, bow: Some(open.open.bow.name.to_string()) })
}
