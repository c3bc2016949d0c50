//! Stopping a kind of mail by the link at its foot: by the page's button, or by that of a mail program in
//! one click (RFC 8058).

use actix_web::{HttpRequest, HttpResponse, get, http::StatusCode, post, web};
use askama::Template;
use domain::{
    ids::ClubId,
    mail::{MailKind, QuietLink},
    members::Member,
};
use serde::Deserialize;
use store::{Read, mail_links::open_quiet};
use utoipa::ToSchema;

use super::{
    form::{Form, unknown},
    page::{Note, Page, not_ours, respond},
};
use crate::{
    auth::{Net, SignedIn},
    error::ApiError,
    me::stop_mail,
    server::Api,
};

/// What stands in the body of a one-click request (RFC 8058, section 3.1).
const ONE_CLICK: (&str, &str) = ("List-Unsubscribe", "One-Click");
const ACTION: &str = "action";

/// What the form of the page, or a mail program, sends: one of these.
#[derive(Deserialize, ToSchema)]
#[expect(dead_code, reason = "it is read field by field; this is how the document tells of it")]
pub(crate) struct QuietForm {
    /// `One-Click`, as RFC 8058 has it.
    #[serde(rename = "List-Unsubscribe")]
    #[schema(example = "One-Click")]
    list_unsubscribe: Option<String>,
    /// `stop` or `resume`, as the page's buttons send it.
    #[schema(example = "stop")]
    action: Option<String>,
}

/// Which kind of mail the link would stop, and what still comes. It changes nothing.
#[utoipa::path(
    operation_id = "show_quiet",
    tag = "pages",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    responses(
        (status = 200, description = "A page with one button", content_type = "text/html"),
        (status = 404, description = "Not a link of ours", content_type = "text/html")
    ),
    security(())
)]
#[get("/quiet/{token}")]
pub(crate) async fn show_quiet(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
) -> HttpResponse {
    respond(show(&api, from, &token).await)
}

async fn show(api: &Api, from: Net, token: &str) -> Result<Page, ApiError> {
    let Some((club, link)) = opened(api, token) else { return not_ours(api, from) };
    let seen = api.store.read(move |read| {
        let member = store::members::get(read, club, link.member)?;
        page(read, club, &member, link.kind)
    });
    seen.await
}

/// Stop a kind of mail to whom the link was mailed, at once, or let it come again. Doing it twice changes
/// nothing more. A mail program sends `List-Unsubscribe=One-Click` (RFC 8058); the guardian of a minor is
/// told.
#[utoipa::path(
    operation_id = "stop_mail",
    tag = "pages",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    request_body(content(
        (QuietForm = "application/x-www-form-urlencoded"),
        (QuietForm = "multipart/form-data")
    )),
    responses(
        (status = 200, description = "Stopped, or sent again", content_type = "text/html"),
        (status = 404, description = "Not a link of ours", content_type = "text/html"),
        (status = 422, description = "Not what the page offers", content_type = "text/html")
    ),
    security(())
)]
#[post("/quiet/{token}")]
pub(crate) async fn stop_mail_by_link(
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
    let Some((club, link)) = opened(api, token) else { return not_ours(api, from) };
    let (form, now) = (form?, api.now());
    // A mail program may send fields of its own besides (RFC 8058 forbids none).
    let stop = match (form.get(ONE_CLICK.0), form.get(ACTION)) {
        (Some(value), _) if value == ONE_CLICK.1 => true,
        (None, Some("stop")) => true,
        (None, Some("resume")) => false,
        _ => return Err(unknown()),
    };
    let stopped = api.store.write(move |tx| {
        let member = store::members::get(tx, club, link.member)?;
        if let Some(who) = SignedIn::by_link(club, &member) {
            let club = store::clubs::get(tx, club)?;
            stop_mail(tx, who, (&club, &member), (link.kind, stop), now)?;
        }
        page(tx, club, &member, link.kind)
    });
    stopped.await
}

/// A link of ours about a kind of mail that can be stopped.
fn opened(api: &Api, token: &str) -> Option<(ClubId, QuietLink)> {
    open_quiet(&api.seals, token).filter(|(_, link)| link.kind.stoppable())
}

/// The page with the button.
#[derive(Template)]
#[template(path = "quiet.html")]
struct Question {
    club: String,
    heading: String,
    lines: Vec<String>,
    action: &'static str,
    button: &'static str,
}

/// What still comes, whatever is stopped.
const STILL_COMES: &str =
    "Notices that a bow must not be shot still come, and mail about your account.";

fn page(
    read: &mut Read<'_>,
    club: ClubId,
    member: &Member,
    kind: MailKind,
) -> Result<Page, ApiError> {
    let name = store::clubs::get(read, club)?.name.to_string();
    if member.left_at.is_some() {
        let lines = vec!["You are not in the club any more: no mail comes.".to_owned()];
        let heading = "Nothing more to do".to_owned();
        let page = Note { club: name, heading, lines, first: None };
        return Page::of(StatusCode::OK, &page);
    }
    let stopped = store::stopped_mail::of_member(read, club, member.id)?.contains(&kind);
    let (who, what) = (&member.name, kind.label());
    let page = if stopped {
        Question {
            club: name,
            heading: "Stopped".to_owned(),
            lines: vec![
                format!("{who} gets no more of {what}. Nothing more to do."),
                STILL_COMES.to_owned(),
            ],
            action: "resume",
            button: "Send them again",
        }
    } else {
        Question {
            club: name,
            heading: format!("No more of {what}?"),
            lines: vec![
                format!("When you press the button, {who} gets no more of {what}."),
                STILL_COMES.to_owned(),
            ],
            action: "stop",
            button: "Stop these mails",
        }
    };
    Page::of(StatusCode::OK, &page)
}
