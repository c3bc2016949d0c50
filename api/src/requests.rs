//! What stands around every request: an id, a problem document for whatever failed, and a log line
//! for what is our fault.

use std::panic::AssertUnwindSafe;

use actix_web::{
    Error,
    body::{BoxBody, MessageBody},
    dev::{ServiceRequest, ServiceResponse},
    http::{
        Method,
        header::{HeaderName, HeaderValue},
    },
    middleware::Next,
    web,
};
use futures_util::FutureExt;
use uuid::Uuid;

use crate::{error::ApiError, server::Api};

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// The longest id a client may choose.
const LONGEST_ID: usize = 64;

/// Gives the request an id, runs it, and words whatever failed.
pub(crate) async fn envelope(
    mut request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    if request.method() == Method::HEAD {
        // Answered as GET is; the server leaves the body out by itself (RFC 9110, 9.3.2).
        request.head_mut().method = Method::GET;
    }
    let id = chosen_id(&request).unwrap_or_else(|| fresh_id(&request));
    let path = request.path().to_owned();
    let answered = AssertUnwindSafe(next.call(request)).catch_unwind().await;
    let mut response = match answered {
        Ok(Ok(response)) => worded(response.map_into_boxed_body(), &path, &id),
        Ok(Err(error)) => return Err(error),
        Err(_panic) => {
            let error = ApiError::Internal("a handler panicked".to_owned());
            tracing::error!(request_id = %id, path = without_token(&path), "a handler panicked");
            return Err(actix_web::error::InternalError::from_response(
                "a handler panicked",
                error.answer(&path, &id),
            )
            .into());
        }
    };
    if let Ok(value) = HeaderValue::from_str(&id) {
        response.headers_mut().insert(REQUEST_ID, value);
    }
    response.headers_mut().insert(
        actix_web::http::header::X_CONTENT_TYPE_OPTIONS,
        HeaderValue::from_static("nosniff"),
    );
    Ok(response)
}

/// The answer with a full problem document, where an error of ours was answered.
fn worded(response: ServiceResponse, path: &str, id: &str) -> ServiceResponse {
    let Some(error) = response.response().error().and_then(|error| error.as_error::<ApiError>())
    else {
        return response;
    };
    let logged = without_token(path);
    match error {
        ApiError::Internal(cause) => {
            tracing::error!(request_id = %id, path = logged, cause, "failed");
        }
        ApiError::Unavailable(cause) => {
            tracing::warn!(request_id = %id, path = logged, cause, "unavailable");
        }
        _ => {}
    }
    let answer = error.answer(path, id);
    response.into_response(answer)
}

/// The path as it may stand in a log: a link that was mailed lets in whoever reads it there.
fn without_token(path: &str) -> &str {
    let links = [
        "/api/v1/invitations/",
        "/api/v1/auth/reset/",
        "/act/",
        "/quiet/",
        "/invitations/",
        "/reset/",
    ];
    links.into_iter().find(|link| path.starts_with(link)).unwrap_or(path)
}

/// The id that the client chose, if it is one that can stand in a log.
fn chosen_id(request: &ServiceRequest) -> Option<String> {
    let id = request.headers().get(REQUEST_ID)?.to_str().ok()?;
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
    (!id.is_empty() && id.len() <= LONGEST_ID && id.chars().all(plain)).then(|| id.to_owned())
}

fn fresh_id(request: &ServiceRequest) -> String {
    let now = request.app_data::<web::Data<Api>>().map(|api| api.now()).unwrap_or_default();
    store::fresh_id::<Uuid>(now).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mailed_link_is_not_logged_whole() {
        assert_eq!(without_token("/api/v1/auth/reset/abc"), "/api/v1/auth/reset/");
        assert_eq!(without_token("/api/v1/invitations/abc"), "/api/v1/invitations/");
        assert_eq!(without_token("/act/abc"), "/act/");
        assert_eq!(without_token("/quiet/abc"), "/quiet/");
        assert_eq!(without_token("/invitations/abc"), "/invitations/");
        assert_eq!(without_token("/reset/abc"), "/reset/");
        assert_eq!(without_token("/api/v1/bows/abc"), "/api/v1/bows/abc");
    }
}
