//! Choosing a password by the link in an invitation or in the mail of a reset. What makes a password, and what
//! is done with it, is the API's own; this only reads a form and shows pages.

use actix_web::{HttpRequest, HttpResponse, get, http::StatusCode, post, web};
use domain::links::Purpose;

use super::{
    chosen::{done, over, question},
    form::Form,
    page::{Page, dead_link, respond},
};
use crate::{
    auth::{Followed, Net, NewPassword, change_by_link, follow, join},
    error::ApiError,
    server::Api,
};

/// Who is asked to join which club, with a field for a password. It changes nothing.
#[utoipa::path(
    operation_id = "show_invitation",
    tag = "pages",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    responses(
        (status = 200, description = "A page with one field and one button", content_type = "text/html"),
        (status = 404, description = "Not a link of ours", content_type = "text/html"),
        (status = 410, description = "The link was used, or has run out", content_type = "text/html")
    ),
    security(())
)]
#[get("/invitations/{token}")]
pub(crate) async fn show_invitation(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
) -> HttpResponse {
    respond(show(&api, from, Purpose::Invitation, &token).await)
}

/// Join a club by the form of its page, as `accept_invitation` does.
#[utoipa::path(
    operation_id = "join_by_page",
    tag = "pages",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    request_body(content = NewPassword, content_type = "application/x-www-form-urlencoded"),
    responses(
        (status = 200, description = "Joined; sign in next", content_type = "text/html"),
        (status = 404, description = "Not a link of ours", content_type = "text/html"),
        (status = 409, description = "Somebody signs in by that address already", content_type = "text/html"),
        (status = 410, description = "The link was used, or has run out", content_type = "text/html"),
        (status = 422, description = "Not a password: the page again, with the reason", content_type = "text/html")
    ),
    security(())
)]
#[post("/invitations/{token}")]
pub(crate) async fn join_by_page(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
    request: HttpRequest,
    body: web::Payload,
) -> HttpResponse {
    respond(choose(&api, from, (Purpose::Invitation, &token), (&request, body)).await)
}

/// Whose password is to be another, with a field for it. It changes nothing.
#[utoipa::path(
    operation_id = "show_reset",
    tag = "pages",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    responses(
        (status = 200, description = "A page with one field and one button", content_type = "text/html"),
        (status = 404, description = "Not a link of ours", content_type = "text/html"),
        (status = 410, description = "The link was used, or has run out", content_type = "text/html")
    ),
    security(())
)]
#[get("/reset/{token}")]
pub(crate) async fn show_reset(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
) -> HttpResponse {
    respond(show(&api, from, Purpose::Reset, &token).await)
}

/// Choose another password by the form of its page, as `reset_password` does.
#[utoipa::path(
    operation_id = "reset_by_page",
    tag = "pages",
    params(("token" = String, Path, description = "What the link in the mail ends with")),
    request_body(content = NewPassword, content_type = "application/x-www-form-urlencoded"),
    responses(
        (status = 200, description = "Changed; sign in with it", content_type = "text/html"),
        (status = 404, description = "Not a link of ours", content_type = "text/html"),
        (status = 410, description = "The link was used, or has run out", content_type = "text/html"),
        (status = 422, description = "Not a password: the page again, with the reason", content_type = "text/html")
    ),
    security(())
)]
#[post("/reset/{token}")]
pub(crate) async fn reset_by_page(
    api: web::Data<Api>,
    from: Net,
    token: web::Path<String>,
    request: HttpRequest,
    body: web::Payload,
) -> HttpResponse {
    respond(choose(&api, from, (Purpose::Reset, &token), (&request, body)).await)
}

async fn show(api: &Api, from: Net, purpose: Purpose, token: &str) -> Result<Page, ApiError> {
    api.throttle.link(from)?;
    page(follow(api, purpose, token).await?)
}

fn page(followed: Followed) -> Result<Page, ApiError> {
    match followed {
        Followed::Works(found) => Page::of(StatusCode::OK, &question(&found, None)),
        Followed::Over(found) => Page::of(StatusCode::GONE, &over(&found)),
        Followed::Unknown => Ok(dead_link()),
    }
}

async fn choose(
    api: &Api,
    from: Net,
    (purpose, token): (Purpose, &str),
    (request, body): (&HttpRequest, web::Payload),
) -> Result<Page, ApiError> {
    api.throttle.link(from)?;
    let form = Form::read(request, body).await;
    let found = match follow(api, purpose, token).await? {
        Followed::Works(found) => found,
        other => return page(other),
    };
    let form = form?;
    form.only(&["password"])?;
    let password = match NewPassword::of(form.get("password").unwrap_or_default()).parse() {
        Ok(password) => password,
        Err(ApiError::Invalid(errors)) => {
            let why = errors.first().map(|error| error.detail.as_str());
            return Page::of(StatusCode::UNPROCESSABLE_ENTITY, &question(&found, why));
        }
        Err(error) => return Err(error),
    };
    let kept = match purpose {
        Purpose::Invitation => join(api, &found, password).await,
        Purpose::Reset => change_by_link(api, &found, password).await,
    };
    match kept {
        Ok(()) => Page::of(StatusCode::OK, &done(&found)),
        // Somebody was faster, most likely the same person pressing twice: what is on record by now.
        Err(ApiError::NotFound(_)) => page(follow(api, purpose, token).await?),
        Err(error) => Err(error),
    }
}
