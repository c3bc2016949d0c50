//! The body of a request: JSON of bounded size, in bounded time, with no field left unread.

use std::time::Duration;

use actix_web::{FromRequest, HttpMessage, HttpRequest, dev::Payload};
use futures_util::{StreamExt, future::LocalBoxFuture};
use serde::de::DeserializeOwned;

use crate::{
    error::ApiError,
    fields::FieldError,
    object::Object,
    once::Once,
    paging::{NoQuery, read_query},
    wording::{cut, plain},
};

/// The most bytes a body may have. A full batch of logs with short notes fits; one whose notes are
/// all as long as they may be does not, and has to be sent in several.
pub(crate) const LIMIT_BYTES: usize = 512 * 1024;
/// The most characters of an unknown key that are handed back.
const LONGEST_KEY: usize = 100;
const TIME_LIMIT: Duration = Duration::from_secs(10);

/// A body that has been read, and the key of a request that may come again. An address that takes a
/// body takes no query.
pub(crate) struct Body<T>(pub(crate) T, pub(crate) Once);

impl<T: DeserializeOwned + 'static> FromRequest for Body<T> {
    type Error = ApiError;
    type Future = LocalBoxFuture<'static, Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let is_json = request.content_type().eq_ignore_ascii_case("application/json");
        let query = read_query::<NoQuery>(request);
        let payload = payload.take();
        let request = request.clone();
        Box::pin(async move {
            query?;
            if !is_json {
                return Err(ApiError::NotJson);
            }
            let bytes = collect(payload, LIMIT_BYTES, TIME_LIMIT).await?;
            let once = Once::of(&request, &[&bytes])?;
            Ok(Self(parse(&bytes)?, once))
        })
    }
}

/// A whole body, as long as it has no more bytes and arrives in time. One that is cut off is none.
pub(crate) async fn collect(
    mut payload: Payload,
    most_bytes: usize,
    within: Duration,
) -> Result<Vec<u8>, ApiError> {
    let all = async {
        let mut bytes = Vec::new();
        while let Some(chunk) = payload.next().await {
            let chunk = chunk.map_err(|error| ApiError::Malformed(error.to_string()))?;
            if bytes.len() + chunk.len() > most_bytes {
                let detail = format!("a body may have at most {most_bytes} bytes");
                return Err(ApiError::TooLarge(detail));
            }
            bytes.extend_from_slice(&chunk);
        }
        Ok(bytes)
    };
    tokio::time::timeout(within, all).await.unwrap_or(Err(ApiError::TooSlow))
}

fn parse<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, ApiError> {
    let mut json = serde_json::Deserializer::from_slice(bytes);
    let Object(value) = serde_path_to_error::deserialize(&mut json).map_err(|error| {
        let path = error.path().clone();
        let error = error.into_inner();
        if error.is_data() { refused_field(&path, &error) } else { not_json(&error) }
    })?;
    json.end().map_err(|error| not_json(&error))?;
    Ok(value)
}

fn not_json(error: &serde_json::Error) -> ApiError {
    ApiError::Malformed(format!("the body is not JSON: {error}"))
}

/// What serde found wrong with a field, with the field's place.
fn refused_field(path: &serde_path_to_error::Path, error: &serde_json::Error) -> ApiError {
    let text = error.to_string();
    let words = text.rsplit_once(" at line ").map_or(text.as_str(), |(words, _place)| words);
    let named = words.split('`').nth(1).unwrap_or_default();
    let mut pointer = String::new();
    for segment in path {
        use serde_path_to_error::Segment;
        match segment {
            Segment::Seq { index } => pointer = format!("{pointer}/{index}"),
            Segment::Map { key } => pointer = format!("{pointer}/{}", escaped(key)),
            Segment::Enum { .. } | Segment::Unknown => {}
        }
    }
    let (code, own_field) = if words.starts_with("missing field") {
        ("missing", true)
    } else if words.starts_with("unknown field") {
        // Serde's path already ends with the field it did not know.
        ("unknown_field", !pointer.ends_with(&format!("/{}", escaped(named))))
    } else if words.starts_with("duplicate field") {
        ("duplicate_field", !pointer.ends_with(&format!("/{}", escaped(named))))
    } else {
        ("wrong_type", false)
    };
    if own_field {
        pointer = format!("{pointer}/{}", escaped(named));
    }
    ApiError::Invalid(vec![FieldError::new(&pointer, code, plain(words))])
}

/// A key as it stands in a JSON pointer (RFC 6901), and no more of it than can be of use.
fn escaped(key: &str) -> String {
    cut(key, LONGEST_KEY).replace('~', "~0").replace('/', "~1")
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "only the shape is of interest")]
    struct Entry {
        shots: i64,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "only the shape is of interest")]
    struct Batch {
        entries: Vec<Object<Entry>>,
    }

    fn check(body: &str, pointer: &str, code: &str) {
        match parse::<Batch>(body.as_bytes()) {
            Err(ApiError::Invalid(errors)) => {
                assert_eq!((errors[0].pointer.as_str(), errors[0].code), (pointer, code), "{body}");
            }
            other => panic!("{body}: {other:?}"),
        }
    }

    #[test]
    fn a_refused_field_is_named_by_its_place() {
        check(r#"{"entries":[{"shots":1},{"shots":"x"}]}"#, "/entries/1/shots", "wrong_type");
        check(r#"{"entries":[{"shots":1.5}]}"#, "/entries/0/shots", "wrong_type");
        check(r#"{"entries":[{"shots":null}]}"#, "/entries/0/shots", "wrong_type");
        check(r#"{"entries":[{}]}"#, "/entries/0/shots", "missing");
        check(r#"{"entries":[{"shots":1,"arrows":2}]}"#, "/entries/0/arrows", "unknown_field");
        check(r#"{"entries":[{"shots":1,"shots":2}]}"#, "/entries/0/shots", "duplicate_field");
        check(r#"{"entries":[],"a/b":1}"#, "/a~1b", "unknown_field");
        check("[]", "", "wrong_type");
        check(r#"[[{"shots":1}]]"#, "", "wrong_type");
        check(r#"{"entries":[[1]]}"#, "/entries/0", "wrong_type");
    }

    #[test]
    fn a_refused_field_is_told_without_types_and_without_all_that_was_sent() {
        let detail = |body: &str| match parse::<Batch>(body.as_bytes()) {
            Err(ApiError::Invalid(errors)) => (errors[0].pointer.clone(), errors[0].detail.clone()),
            other => panic!("{other:?}"),
        };
        let (_, told) = detail(r#"{"entries":[{"shots":" at line 3"}]}"#);
        assert_eq!(told, r#"invalid type: string " at line 3", expected a whole number"#);
        let long = "x".repeat(400_000);
        for body in [
            format!(r#"{{"entries":[{{"shots":"{long}"}}]}}"#),
            format!(r#"{{"entries":[{{"{long}":1}}]}}"#),
            format!(r#"{{"{long}":1}}"#),
        ] {
            let (pointer, told) = detail(&body);
            assert!(pointer.chars().count() < 150 && told.chars().count() <= 200, "{told}");
        }
    }

    #[test]
    fn what_is_not_json_is_malformed() {
        for body in ["", "{", "nonsense", r#"{"entries":[]} x"#, r#"{"entries":[NaN]}"#] {
            let refused = parse::<Batch>(body.as_bytes());
            assert!(matches!(refused, Err(ApiError::Malformed(_))), "{refused:?}");
        }
    }

    #[test]
    fn nesting_without_end_is_refused_and_harms_nothing() {
        for opening in ["[", r#"{"entries":["#, r#"{"entries":"#] {
            assert!(parse::<Batch>(opening.repeat(20_000).as_bytes()).is_err(), "{opening}");
        }
    }
}
