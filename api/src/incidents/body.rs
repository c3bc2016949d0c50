//! How an incident is written.

use domain::incidents::Incident;
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// Something that happened to a bow.
#[derive(Serialize, ToSchema)]
pub(crate) struct IncidentBody {
    id: Uuid,
    bow_id: Uuid,
    #[schema(example = "dry_fire")]
    kind: &'static str,
    /// Whether the bow and what hangs under it must not be shot until they have been cleared.
    #[schema(example = true)]
    forbids_shooting: bool,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    note: String,
    entered_by_member_id: Uuid,
    #[schema(value_type = String, format = DateTime)]
    received_at: Timestamp,
}

impl From<Incident> for IncidentBody {
    fn from(incident: Incident) -> Self {
        Self {
            id: incident.id.0,
            bow_id: incident.bow_id.0,
            kind: incident.kind.as_str(),
            forbids_shooting: incident.kind.forbids_shooting(),
            at: incident.at,
            note: incident.note.as_str().to_owned(),
            entered_by_member_id: incident.entered_by.0,
            received_at: incident.received_at,
        }
    }
}
