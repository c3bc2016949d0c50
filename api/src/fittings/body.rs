//! How a fitting is written.

use domain::fittings::{Fitting, Host};
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// A part's stay on a host.
#[derive(Serialize, ToSchema)]
pub(crate) struct FittingBody {
    id: Uuid,
    part_id: Uuid,
    /// The bow it was fitted to; null if to a part.
    bow_id: Option<Uuid>,
    /// The part it was fitted to; null if to a bow.
    host_part_id: Option<Uuid>,
    #[schema(value_type = String, format = DateTime)]
    from: Timestamp,
    /// Null while it is there.
    #[schema(value_type = Option<String>, format = DateTime)]
    to: Option<Timestamp>,
    /// One more than the times it was changed.
    #[schema(example = 1)]
    version: i32,
}

impl From<Fitting> for FittingBody {
    fn from(fitting: Fitting) -> Self {
        let (bow_id, host_part_id) = match fitting.host {
            Host::Bow(bow) => (Some(bow.0), None),
            Host::Part(part) => (None, Some(part.0)),
        };
        Self {
            id: fitting.id.0,
            part_id: fitting.part_id.0,
            bow_id,
            host_part_id,
            from: fitting.from,
            to: fitting.to,
            version: fitting.version,
        }
    }
}
