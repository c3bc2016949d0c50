//! Answers that a client keeps and asks about again: each has an `ETag` made of what it says, and who has
//! it already is told so without hearing it again (RFC 9110, sections 8.8.3 and 13.1.2). Knows nothing
//! of what is in them.

use std::future::{Ready, ready};

use actix_web::{
    FromRequest, HttpRequest, HttpResponse,
    dev::Payload,
    http::header::{CACHE_CONTROL, ETAG, IF_NONE_MATCH},
};
use aws_lc_rs::digest;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use serde::Serialize;

use crate::error::ApiError;

/// What the client has already, by the `ETags` that it names.
#[derive(Debug)]
pub(crate) struct Known(String);

impl Known {
    /// The answer, or that it is the one the client has. It may be kept by its reader, and by nobody in
    /// between; and is to be asked about before it is used again.
    pub(crate) fn answer(&self, body: &impl Serialize) -> Result<HttpResponse, ApiError> {
        let body = serde_json::to_string(body).map_err(|e| ApiError::Internal(e.to_string()))?;
        Ok(self.answer_text("application/json", body))
    }

    /// The same for a text of any kind.
    pub(crate) fn answer_text(&self, content_type: &'static str, body: String) -> HttpResponse {
        let tag = tag_of(body.as_bytes());
        let mut response =
            if self.has(&tag) { HttpResponse::NotModified() } else { HttpResponse::Ok() };
        response.insert_header((ETAG, format!("W/{tag}")));
        response.insert_header((CACHE_CONTROL, "private, no-cache"));
        if self.has(&tag) {
            return response.finish();
        }
        response.content_type(content_type).body(body)
    }

    /// Whether one of the tags is this one. They are compared weakly: a mark of weakness says nothing.
    fn has(&self, tag: &str) -> bool {
        let mut named = self.0.split(',').map(str::trim);
        named.any(|named| named == "*" || named.strip_prefix("W/").unwrap_or(named) == tag)
    }
}

/// The tag of what is said. It is weak, since the same may go out compressed or not.
fn tag_of(body: &[u8]) -> String {
    format!("\"{}\"", URL_SAFE_NO_PAD.encode(digest::digest(&digest::SHA256, body)))
}

impl FromRequest for Known {
    type Error = ApiError;
    type Future = Ready<Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let headers = request.headers().get_all(IF_NONE_MATCH);
        let tags: Vec<&str> = headers.filter_map(|value| value.to_str().ok()).collect();
        ready(Ok(Self(tags.join(","))))
    }
}

#[cfg(test)]
mod tests {
    use actix_web::http::StatusCode;

    use super::*;

    #[test]
    fn who_has_it_already_is_told_so() {
        let answer = |tags: &str, body: &str| Known(tags.to_owned()).answer(&body).unwrap();
        let first = answer("", "sound");
        assert_eq!(first.status(), StatusCode::OK);
        let tag = first.headers().get(ETAG).unwrap().to_str().unwrap().to_owned();
        let strong = tag.strip_prefix("W/").unwrap();
        for tags in [&tag, strong, "*", &format!("\"x\", {tag}")] {
            let again = answer(tags, "sound");
            assert_eq!(again.status(), StatusCode::NOT_MODIFIED, "{tags}");
            assert_eq!(again.headers().get(ETAG).unwrap(), tag.as_str(), "{tags}");
        }
        for tags in ["", "\"x\"", strong.trim_matches('"')] {
            assert_eq!(answer(tags, "sound").status(), StatusCode::OK, "{tags}");
        }
        assert_eq!(answer(&tag, "due").status(), StatusCode::OK);
    }
}
