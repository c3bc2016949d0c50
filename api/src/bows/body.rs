//! How a bow is written.

use domain::bows::Bow;
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// A bow.
#[derive(Serialize, ToSchema)]
pub(crate) struct BowBody {
    id: Uuid,
    #[schema(example = "Blue recurve")]
    name: String,
    #[schema(example = "recurve")]
    division: &'static str,
    #[schema(example = 68.0)]
    bow_length_in: f64,
    #[schema(example = 38.0)]
    draw_weight_lbf: f64,
    /// Whose it is; null means the club's.
    owner_member_id: Option<Uuid>,
    /// Who shoots it.
    archer_member_id: Option<Uuid>,
    /// Who looks after it, if another.
    keeper_member_id: Option<Uuid>,
    #[schema(value_type = String, format = DateTime)]
    created_at: Timestamp,
}

impl From<Bow> for BowBody {
    fn from(bow: Bow) -> Self {
        Self::from(&bow)
    }
}

impl From<&Bow> for BowBody {
    fn from(bow: &Bow) -> Self {
        Self {
            id: bow.id.0,
            name: bow.name.to_string(),
            division: bow.division.as_str(),
            bow_length_in: bow.length.get(),
            draw_weight_lbf: bow.draw_weight.get(),
            owner_member_id: bow.owner.map(|member| member.0),
            archer_member_id: bow.archer.map(|member| member.0),
            keeper_member_id: bow.keeper.map(|member| member.0),
            created_at: bow.created_at,
        }
    }
}
