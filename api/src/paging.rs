//! Lists in pages: how many, from where on, and what to ask for next.

use actix_web::{FromRequest, HttpRequest, dev::Payload, error::QueryPayloadError, web};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use std::future::{Ready, ready};
use store::Page;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::{
    error::ApiError,
    fields::FieldError,
    wording::{MOST_CHARS, cut, plain},
};

/// The code of a query that cannot be.
pub(crate) const BAD_QUERY: &str = "bad_query";

const DEFAULT_LIMIT: u32 = 50;
const MOST: u32 = 200;

/// What every list takes.
#[derive(Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct ListQuery {
    /// How many rows at most; more than 200 means 200.
    #[param(minimum = 1, example = 50)]
    pub(crate) limit: Option<i64>,
    /// The `next_cursor` of the page before.
    pub(crate) cursor: Option<String>,
}

impl ListQuery {
    /// The page asked for, one row longer than the client wants, so that we know if more follow.
    pub(crate) fn page(&self) -> Result<Page, ApiError> {
        page(self.limit, self.cursor.as_deref())
    }
}

/// The page asked for by `limit` and `cursor`, and one row more.
pub(crate) fn page(limit: Option<i64>, cursor: Option<&str>) -> Result<Page, ApiError> {
    let refused =
        |field, code, detail| ApiError::Invalid(vec![FieldError::new(field, code, detail)]);
    let limit = match limit {
        None => DEFAULT_LIMIT,
        Some(..=0) => return Err(refused("/limit", "out_of_range", "must be at least 1")),
        Some(limit) => u32::try_from(limit).unwrap_or(MOST).min(MOST),
    };
    let after = cursor.map(|cursor| {
        let bytes = URL_SAFE_NO_PAD.decode(cursor).ok();
        bytes.and_then(|bytes| Uuid::from_slice(&bytes).ok()).ok_or_else(|| {
            refused("/cursor", "not_a_cursor", "must be a next_cursor that this list gave")
        })
    });
    Ok(Page { after: after.transpose()?, limit: limit + 1 })
}

/// A page of a list.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ListBody<T> {
    /// The rows.
    data: Vec<T>,
    /// Ask for this to go on; null on the last page.
    next_cursor: Option<String>,
}

impl<T> ListBody<T> {
    /// A page of the rows that were found for `page`, with the cursor after the last one shown.
    pub(crate) fn of<R>(rows: Vec<R>, page: Page, id: fn(&R) -> Uuid, body: fn(R) -> T) -> Self {
        let shown = usize::try_from(page.limit.saturating_sub(1)).unwrap_or(usize::MAX);
        let more = rows.len() > shown;
        let last = rows.iter().take(shown).last().map(id).filter(|_| more);
        Self {
            data: rows.into_iter().take(shown).map(body).collect(),
            next_cursor: last.map(|id| URL_SAFE_NO_PAD.encode(id.as_bytes())),
        }
    }

    /// A list that is always whole.
    pub(crate) fn whole(data: Vec<T>) -> Self {
        Self { data, next_cursor: None }
    }
}

/// The query of an address that takes none.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NoQuery {}

/// The query of a request, with no field left unread.
pub(crate) struct Query<T>(pub(crate) T);

impl<T: DeserializeOwned> FromRequest for Query<T> {
    type Error = ApiError;
    type Future = Ready<Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(read_query(request).map(Self))
    }
}

/// Reads the query of a request.
pub(crate) fn read_query<T: DeserializeOwned>(request: &HttpRequest) -> Result<T, ApiError> {
    let words = match web::Query::<T>::from_query(request.query_string()) {
        Ok(query) => return Ok(query.into_inner()),
        Err(QueryPayloadError::Deserialize(error)) => error.to_string(),
        Err(_other) => "cannot be read".to_owned(),
    };
    let named = words.split('`').nth(1).filter(|_| words.contains("unknown field"));
    let pointer = named.map(|named| format!("/{}", cut(named, MOST_CHARS))).unwrap_or_default();
    Err(ApiError::Invalid(vec![FieldError::new(&pointer, BAD_QUERY, plain(&words))]))
}
