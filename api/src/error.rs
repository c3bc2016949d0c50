//! Every way a request can fail, with its status and its stable code. The body is a problem
//! document of RFC 9457; nothing of SQL, paths or types of this program is ever in it.

use std::fmt;

use actix_web::{
    HttpResponse, ResponseError,
    http::{StatusCode, header},
};
use domain::{fittings::FittingError, parts::PartError, string_change::StringChangeError};
use serde::Serialize;
use store::StoreError;
use utoipa::ToSchema;

use crate::{
    fields::{Coded, FieldError},
    paging::BAD_QUERY,
    tables::{Refusal, Report},
    wording::{MOST_CHARS, cut},
};

/// Why a request was not done.
#[derive(Debug)]
pub(crate) enum ApiError {
    /// Not JSON, or not to be read at all.
    Malformed(String),
    /// Nobody is signed in.
    NotSignedIn(&'static str),
    /// Signed in, but not allowed to.
    Forbidden(&'static str),
    /// No such row in this club.
    NotFound(String),
    /// The path is known, the method is not; these are.
    MethodNotAllowed(String),
    /// The body took too long.
    TooSlow,
    /// It contradicts what is on record.
    Conflict { code: &'static str, detail: String },
    /// It was changed since the version that the request names.
    Stale,
    /// A change has to name the version that it is of.
    NeedsVersion,
    /// Too often; to be tried again after so many seconds.
    TooOften(u64),
    /// More than a request may hold; how much that is.
    TooLarge(String),
    /// Not the media type of this API.
    NotJson,
    /// Not what a browser's form sends.
    NotForm,
    /// Not a file of this API; what to do.
    NotCsv(&'static str),
    /// Well-formed, but some fields cannot be.
    Invalid(Vec<FieldError>),
    /// Some rows of a file cannot be taken, so none was.
    NotImported(Box<Report>),
    /// Try again later.
    Unavailable(String),
    /// Our fault.
    Internal(String),
}

/// A problem document (RFC 9457).
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Problem {
    /// What kind of problem, as a relative reference that does not change.
    #[serde(rename = "type")]
    #[schema(example = "/problems/invalid")]
    kind: String,
    /// The kind in words.
    #[schema(example = "Some fields cannot be taken")]
    title: &'static str,
    /// The HTTP status.
    #[schema(example = 422, minimum = 400, maximum = 599)]
    status: u16,
    /// What happened this time.
    #[schema(example = "shots: must be at least 1")]
    detail: String,
    /// The path asked for.
    #[schema(example = "/api/v1/shot-logs")]
    instance: String,
    /// The request, as it stands in the server's log.
    request_id: String,
    /// The fields at fault, if any.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    errors: Vec<FieldError>,
    /// How a file was read that was not imported: an `ImportReport`.
    #[schema(value_type = Option<serde_json::Value>, example = json!(null))]
    #[serde(skip_serializing_if = "Option::is_none")]
    report: Option<Report>,
}

impl ApiError {
    fn kind(&self) -> (StatusCode, &'static str, &'static str) {
        match self {
            Self::Malformed(_) => {
                (StatusCode::BAD_REQUEST, "malformed", "The request cannot be read")
            }
            Self::NotSignedIn(_) => (StatusCode::UNAUTHORIZED, "not-signed-in", "Sign in first"),
            Self::Forbidden(_) => (StatusCode::FORBIDDEN, "forbidden", "Not yours to do"),
            Self::NotFound(_) => (StatusCode::NOT_FOUND, "not-found", "Not found"),
            Self::MethodNotAllowed(_) => (
                StatusCode::METHOD_NOT_ALLOWED,
                "method-not-allowed",
                "Not a method of this address",
            ),
            Self::TooSlow => {
                (StatusCode::REQUEST_TIMEOUT, "too-slow", "The request took too long to arrive")
            }
            Self::Conflict { .. } => {
                (StatusCode::CONFLICT, "conflict", "It contradicts what is on record")
            }
            Self::Stale => (
                StatusCode::PRECONDITION_FAILED,
                "stale",
                "It was changed by somebody else meanwhile",
            ),
            Self::NeedsVersion => (
                StatusCode::PRECONDITION_REQUIRED,
                "needs-version",
                "A change has to say which version it is of",
            ),
            Self::TooOften(_) => (StatusCode::TOO_MANY_REQUESTS, "too-often", "Too often; wait"),
            Self::TooLarge(_) => {
                (StatusCode::PAYLOAD_TOO_LARGE, "too-large", "The request is too large")
            }
            Self::NotJson => (
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "not-json",
                "The body must be application/json",
            ),
            Self::NotForm => {
                (StatusCode::UNSUPPORTED_MEDIA_TYPE, "not-form", "The body must be that of a form")
            }
            Self::NotCsv(_) => {
                (StatusCode::UNSUPPORTED_MEDIA_TYPE, "not-csv", "The body must be a CSV file")
            }
            Self::NotImported(_) => (
                StatusCode::UNPROCESSABLE_ENTITY,
                "not-imported",
                "Some rows cannot be taken, and nothing was written",
            ),
            Self::Invalid(_) => {
                (StatusCode::UNPROCESSABLE_ENTITY, "invalid", "Some fields cannot be taken")
            }
            Self::Unavailable(_) => {
                (StatusCode::SERVICE_UNAVAILABLE, "unavailable", "Not now; try again")
            }
            Self::Internal(_) => {
                (StatusCode::INTERNAL_SERVER_ERROR, "internal", "Something went wrong here")
            }
        }
    }

    fn detail(&self) -> String {
        match self {
            Self::Malformed(detail)
            | Self::NotFound(detail)
            | Self::TooLarge(detail)
            | Self::Conflict { detail, .. } => detail.clone(),
            Self::NotSignedIn(detail) | Self::Forbidden(detail) | Self::NotCsv(detail) => {
                (*detail).to_owned()
            }
            Self::MethodNotAllowed(allow) => format!("this address takes {allow}"),
            Self::Stale => "read it again, and send the change with its new ETag".to_owned(),
            Self::NeedsVersion => "send the ETag that it was read with as If-Match".to_owned(),
            Self::TooOften(after_s) => format!("try again in {after_s} seconds"),
            Self::TooSlow => "the body must arrive within 10 seconds, a file within 60".to_owned(),
            Self::NotJson => "send Content-Type: application/json".to_owned(),
            Self::NotForm => "send Content-Type: application/x-www-form-urlencoded".to_owned(),
            Self::Invalid(errors) => {
                let one = |error: &FieldError| {
                    let field = match error.pointer.trim_start_matches('/') {
                        "" if error.code == BAD_QUERY => "query",
                        "" => "body",
                        field => field,
                    };
                    format!("{field}: {}", error.detail)
                };
                let few = errors.iter().take(3).map(one).collect::<Vec<_>>().join("; ");
                cut(&few, MOST_CHARS)
            }
            Self::NotImported(report) => {
                let first = report.problems.first().map(ToString::to_string).unwrap_or_default();
                let total = report.problems_total;
                cut(
                    &format!("{first} ({total} in all; mode=each takes the other rows)"),
                    MOST_CHARS,
                )
            }
            // A commit may have gone through though its answer was lost on the way.
            Self::Unavailable(_) => "it is not known whether the request was done; a log that is \
                sent again with the same id counts once, so that is safe"
                .to_owned(),
            Self::Internal(_) => "it is in the server's log under this request id".to_owned(),
        }
    }

    /// The problem document for a request to `instance`.
    pub(crate) fn problem(&self, instance: &str, request_id: &str) -> Problem {
        let (status, slug, title) = self.kind();
        let mut errors = match self {
            Self::Invalid(errors) => errors.clone(),
            Self::NotImported(report) => report.problems.iter().map(FieldError::from).collect(),
            _ => Vec::new(),
        };
        if let Self::Conflict { code, detail } = self {
            errors.push(FieldError::new("", code, detail.clone()));
        }
        Problem {
            kind: format!("/problems/{slug}"),
            title,
            status: status.as_u16(),
            detail: self.detail(),
            instance: instance.to_owned(),
            request_id: request_id.to_owned(),
            errors,
            report: match self {
                Self::NotImported(report) => Some(report.as_ref().clone()),
                _ => None,
            },
        }
    }

    /// The answer, with the headers that go with its status.
    pub(crate) fn answer(&self, instance: &str, request_id: &str) -> HttpResponse {
        let mut answer = HttpResponse::build(self.status_code());
        match self {
            Self::NotSignedIn(_) => {
                answer.insert_header((header::WWW_AUTHENTICATE, "Bearer realm=\"tautline\""));
            }
            Self::MethodNotAllowed(allow) => {
                answer.insert_header((header::ALLOW, allow.as_str()));
            }
            Self::Unavailable(_) => {
                answer.insert_header((header::RETRY_AFTER, "5"));
            }
            Self::TooOften(after_s) => {
                answer.insert_header((header::RETRY_AFTER, after_s.to_string()));
            }
            _ => {}
        }
        answer.content_type("application/problem+json").json(self.problem(instance, request_id))
    }
}

impl fmt::Display for ApiError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Internal(cause) | Self::Unavailable(cause) => f.write_str(cause),
            _ => f.write_str(&self.detail()),
        }
    }
}

impl ResponseError for ApiError {
    fn status_code(&self) -> StatusCode {
        self.kind().0
    }

    fn error_response(&self) -> HttpResponse {
        self.answer("", "")
    }
}

impl From<StoreError> for ApiError {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::NotFound { what } => Self::NotFound(format!("no such {what} in your club")),
            StoreError::Changed => Self::Stale,
            StoreError::InUse { what } => {
                let detail = format!("something on record refers to the {what}");
                Self::Conflict { code: "in_use", detail }
            }
            StoreError::Busy | StoreError::Unavailable(_) => Self::Unavailable(error.to_string()),
            StoreError::Inconsistent { .. } | StoreError::Database(_) => {
                Self::Internal(error.to_string())
            }
        }
    }
}

impl From<Refusal> for ApiError {
    fn from(refusal: Refusal) -> Self {
        match refusal {
            Refusal::TooLarge(detail) => Self::TooLarge(detail),
            Refusal::NotCsv(advice) => Self::NotCsv(advice),
            Refusal::Unreadable(problems) => {
                Self::Invalid(problems.iter().map(FieldError::from).collect())
            }
            Refusal::Store(error) => error.into(),
        }
    }
}

impl From<FittingError> for ApiError {
    fn from(error: FittingError) -> Self {
        let detail = error.to_string();
        let code = match error {
            FittingError::WrongHost { .. } => {
                return Self::Invalid(vec![FieldError::new("/part_id", "wrong_host", detail)]);
            }
            FittingError::BeforeFitted(_) => {
                return Self::Invalid(vec![FieldError::new("/at", "before_fitted", detail)]);
            }
            FittingError::BeforeMade(_) => {
                return Self::Invalid(vec![FieldError::new("/at", "before_made", detail)]);
            }
            FittingError::HostBeforeMade(_) => {
                return Self::Invalid(vec![FieldError::new("/at", "host_before_made", detail)]);
            }
            FittingError::PartRetired(_) | FittingError::HostRetired(_) => "part_retired",
            FittingError::PartElsewhere { .. } => "part_fitted_elsewhere",
            FittingError::HostOccupied { .. } => "host_occupied",
            FittingError::AlreadyOff(_) => "already_taken_off",
        };
        Self::Conflict { code, detail }
    }
}

impl From<PartError> for ApiError {
    fn from(error: PartError) -> Self {
        let (code, detail) = (error.code(), error.to_string());
        match error {
            PartError::Retired { .. } => Self::Conflict { code, detail },
            PartError::BeforeLastFitting { .. } => {
                Self::Invalid(vec![FieldError::new("/at", code, detail)])
            }
            PartError::Strands | PartError::StartingShots | PartError::UnitCost => {
                Self::Invalid(vec![FieldError::new("", code, detail)])
            }
        }
    }
}

impl From<StringChangeError> for ApiError {
    fn from(error: StringChangeError) -> Self {
        let (pointer, code) = match error {
            StringChangeError::NotAString(_) => ("/new_part_id", "not_a_string"),
            StringChangeError::NoOldString => ("/old", "no_string_fitted"),
            StringChangeError::Fitting(error) => return error.into(),
        };
        Self::Invalid(vec![FieldError::new(pointer, code, error.to_string())])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn detail(errors: Vec<FieldError>) -> String {
        ApiError::Invalid(errors).problem("/", "1").detail
    }

    #[test]
    fn a_detail_says_where_the_fault_is_and_stays_short() {
        let one = |pointer, code| vec![FieldError::new(pointer, code, "not so")];
        assert_eq!(detail(one("/shots", "too_few")), "shots: not so");
        assert_eq!(detail(one("", "wrong_type")), "body: not so");
        assert_eq!(detail(one("", BAD_QUERY)), "query: not so");
        let long = FieldError::new("/note", "too_long", "x".repeat(400_000));
        assert_eq!(long.detail.chars().count(), MOST_CHARS);
        assert_eq!(detail(vec![long; 1_000]).chars().count(), MOST_CHARS);
    }

    #[test]
    fn who_is_turned_away_is_not_told_that_nothing_was_done() {
        let told = ApiError::Unavailable("locked".to_owned()).problem("/", "1").detail;
        assert!(told.starts_with("it is not known whether"), "{told}");
        assert!(!told.contains("locked"), "{told}");
    }
}
