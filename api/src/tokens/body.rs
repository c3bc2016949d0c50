//! Tokens of scripts, as they are answered.

use domain::script_tokens::{Scope, ScriptToken};
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::openapi::one_of;

/// A token of a script, without what the script shows.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TokenBody {
    id: Uuid,
    #[schema(example = "Phone of the bench")]
    name: String,
    #[schema(schema_with = scopes)]
    scope: &'static str,
    #[schema(value_type = String, format = DateTime)]
    created_at: Timestamp,
    /// The club's date when it was last used.
    #[schema(value_type = Option<String>, format = Date)]
    last_used_on: Option<Date>,
}

/// A token that was made.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct MadeTokenBody {
    #[serde(flatten)]
    of: TokenBody,
    /// What the script shows as its bearer token. It is told this once: a repeated request is answered
    /// with null.
    #[schema(example = "tl_ZXhhbXBsZSBvZiBhIHRva2VuIDAx")]
    token: Option<String>,
}

impl MadeTokenBody {
    pub(crate) fn of(token: &ScriptToken, shown: Option<String>) -> Self {
        Self { of: token.into(), token: shown }
    }
}

impl From<&ScriptToken> for TokenBody {
    fn from(token: &ScriptToken) -> Self {
        Self {
            id: token.id.0,
            name: token.name.to_string(),
            scope: token.scope.as_str(),
            created_at: token.created_at,
            last_used_on: token.last_used_on,
        }
    }
}

/// Every scope.
pub(crate) fn scopes() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
    one_of(Scope::ALL.iter().map(|scope| scope.as_str()))
}
