//! What is on record of a part itself, for the record of who changed it. Its wear and condition are
//! reckoned from other records, and not in it.

use domain::parts::Part;
use serde::Serialize;
use uuid::Uuid;

use super::body::DetailsBody;

/// What was said of a part, as the API answers it.
#[derive(Serialize)]
pub(crate) struct OnRecord {
    id: Uuid,
    kind: &'static str,
    name: String,
    #[serde(flatten)]
    details: DetailsBody,
}

impl From<&Part> for OnRecord {
    fn from(part: &Part) -> Self {
        let (kind, name) = (part.kind.as_str(), part.name.to_string());
        Self { id: part.id.0, kind, name, details: DetailsBody::from(part) }
    }
}
