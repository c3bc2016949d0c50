//! How a change on record is written.

use domain::audit::Change;
use jiff::Timestamp;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use super::differences::{Difference, differences};
use crate::error::ApiError;

/// A change on record.
#[derive(Serialize, ToSchema)]
pub(crate) struct ChangeBody {
    pub(super) id: Uuid,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// Who made it; null if the program did, or whoever runs it.
    by_member_id: Option<Uuid>,
    /// The operation by which it was made, as this document calls it.
    #[schema(example = "change_bow")]
    operation: String,
    /// What kind of thing was changed.
    #[schema(example = "bow")]
    subject: &'static str,
    subject_id: Uuid,
    /// The bow that it was about, or that the part was under or had been under last.
    bow_id: Option<Uuid>,
    /// What was on record before; null if it was new.
    #[schema(value_type = Option<Object>)]
    before: Option<Value>,
    /// What was on record afterwards; null if it was gone.
    #[schema(value_type = Option<Object>)]
    after: Option<Value>,
    /// The fields that it changed, where there was something before and after it.
    changed: Vec<FieldChangeBody>,
}

/// A field that was changed.
#[derive(Serialize, ToSchema)]
struct FieldChangeBody {
    /// Its name; within another field, after that one's name and a dot.
    #[schema(example = "draw_weight_lbf")]
    field: String,
    /// Null where there was nothing.
    #[schema(value_type = Value, nullable, example = json!(38.0))]
    from: Value,
    /// Null where there is nothing.
    #[schema(value_type = Value, nullable, example = json!(40.0))]
    to: Value,
}

impl From<Difference> for FieldChangeBody {
    fn from(Difference { field, from, to }: Difference) -> Self {
        Self { field, from, to }
    }
}

impl TryFrom<Change> for ChangeBody {
    type Error = ApiError;

    fn try_from(change: Change) -> Result<Self, ApiError> {
        let before = change.before.as_deref().map(read).transpose()?;
        let after = change.after.as_deref().map(read).transpose()?;
        let changed = match (&before, &after) {
            (Some(before), Some(after)) => differences(before, after),
            _ => Vec::new(),
        };
        Ok(Self {
            id: change.id.0,
            at: change.at,
            by_member_id: change.by.map(|member| member.0),
            operation: change.operation,
            subject: change.subject.as_str(),
            subject_id: change.subject_id,
            bow_id: change.bow.map(|bow| bow.0),
            changed: changed.into_iter().map(FieldChangeBody::from).collect(),
            before,
            after,
        })
    }
}

/// What was kept as it was answered.
fn read(kept: &str) -> Result<Value, ApiError> {
    serde_json::from_str(kept)
        .map_err(|error| ApiError::Internal(format!("a record of a change is not JSON: {error}")))
}
