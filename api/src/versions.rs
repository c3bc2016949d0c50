//! Versions of what can be edited: told as an `ETag`, and asked for by a change (RFC 9110, sections 8.8.3
//! and 13.1.1).

use std::future::{Ready, ready};

use actix_web::{
    FromRequest, HttpRequest, HttpResponse,
    dev::Payload,
    http::header::{ETAG, IF_MATCH},
};
use serde::Serialize;

use crate::error::ApiError;

/// A version as an `ETag`.
pub(crate) fn etag(version: i32) -> String {
    format!("\"{version}\"")
}

/// What can be edited, with its version.
pub(crate) fn versioned(body: &impl Serialize, version: i32) -> HttpResponse {
    HttpResponse::Ok().insert_header((ETAG, etag(version))).json(body)
}

/// The versions that a change names: it is done only if one of them is the present one.
#[derive(Debug)]
pub(crate) struct IfMatch(String);

impl IfMatch {
    /// Passes if the change is of the present version.
    pub(crate) fn check(&self, present: i32) -> Result<(), ApiError> {
        let present = etag(present);
        let named = self.0.split(',').map(str::trim).any(|tag| tag == "*" || tag == present);
        if named { Ok(()) } else { Err(ApiError::Stale) }
    }
}

impl FromRequest for IfMatch {
    type Error = ApiError;
    type Future = Ready<Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let header = request.headers().get(IF_MATCH).and_then(|value| value.to_str().ok());
        ready(header.map(|tags| Self(tags.to_owned())).ok_or(ApiError::NeedsVersion))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_of_the_version_it_names_or_of_any() {
        for (tags, passes) in [
            ("\"3\"", true),
            ("\"2\", \"3\"", true),
            ("*", true),
            ("\"2\"", false),
            ("3", false),
            ("W/\"3\"", false),
            ("", false),
        ] {
            assert_eq!(IfMatch(tags.to_owned()).check(3).is_ok(), passes, "{tags}");
        }
    }
}
