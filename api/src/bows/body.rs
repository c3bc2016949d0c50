//! How a bow is written, and what it is now.

use domain::{bows::Bow, clubs::Club, parts::PartKind, rules::BowStop, time::Zone};
use jiff::Timestamp;
use serde::Serialize;
use store::{Read, StoreError};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::auth::SignedIn;

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

/// A bow, and what it is now.
#[derive(Serialize, ToSchema)]
pub(crate) struct BowNowBody {
    #[serde(flatten)]
    bow: BowBody,
    /// Why it must not be shot, whatever hangs on it; null if nothing says so. Parts under it may be
    /// stopped all the same.
    stop: Option<BowStopBody>,
    /// Whether the bow, or anything under it, must not be shot.
    #[schema(example = false)]
    must_not_be_shot: bool,
    /// What a bow of its division is shot with and that is not under it now.
    #[schema(example = json!(["center_serving"]))]
    missing_parts: Vec<&'static str>,
    /// Who was told of its work and said that it is not theirs to look after, until its people are set anew;
    /// null for who is neither coach nor owner.
    #[schema(example = json!([]))]
    disowned_by: Option<Vec<Uuid>>,
}

/// Why a bow must not be shot.
#[derive(Serialize, ToSchema)]
pub(crate) struct BowStopBody {
    /// What happened.
    #[schema(example = "dry_fire")]
    cause: &'static str,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    incident_id: Uuid,
    /// In words, with what would lift it.
    #[schema(
        example = "do not shoot: dry fire on 2026-01-24; a coach or owner inspects the bow and says why it may be shot again"
    )]
    reason: String,
}

impl BowStopBody {
    pub(crate) fn of(stop: BowStop, zone: &Zone) -> Self {
        Self {
            cause: stop.stop.cause.as_str(),
            at: stop.stop.at,
            incident_id: stop.incident.0,
            reason: stop.reason(zone),
        }
    }
}

/// What a bow lacks to be shot, by the kinds of the parts under it.
pub(crate) fn missing_parts(bow: &Bow, under: &[PartKind]) -> Vec<&'static str> {
    bow.division.lacks(under).into_iter().map(PartKind::as_str).collect()
}

impl BowNowBody {
    /// A bow, and what it is at `now`.
    pub(crate) fn read(
        read: &mut Read<'_>,
        (who, club): (SignedIn, &Club),
        bow: &Bow,
        now: Timestamp,
    ) -> Result<Self, StoreError> {
        let disowned = store::disowned_bows::of_bow(read, club.id, bow.id)?;
        let disowned = disowned.into_iter().map(|member| member.0);
        let under = store::fittings::under_bow(read, club.id, bow.id, now)?;
        let under = store::parts::some(read, club.id, &under)?;
        let kinds: Vec<PartKind> = under.values().map(|part| part.kind).collect();
        let stop = store::bow_stops::of_bow(read, club.id, bow.id)?;
        let stopped = store::stops::parts(read, club.id)?;
        Ok(Self {
            must_not_be_shot: stop.is_some() || under.keys().any(|part| stopped.contains(part)),
            bow: BowBody::from(bow),
            stop: stop.map(|stop| BowStopBody::of(stop, &club.zone)),
            missing_parts: missing_parts(bow, &kinds),
            disowned_by: who.looks_after_others().is_ok().then(|| disowned.collect()),
        })
    }
}
