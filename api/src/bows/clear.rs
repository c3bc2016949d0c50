//! Clearing a bow: inspected as a whole by a coach or owner, who says why it may be shot.

use std::collections::BTreeSet;

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    bows::Bow,
    clearances::{self, BowClearance},
    ids::{BowId, ClearanceId, PartId, UpkeepId},
    text::Note,
    upkeep::{Upkeep, UpkeepTask},
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use store::{Tx, fresh_id};
use utoipa::ToSchema;
use uuid::Uuid;

use super::BowNowBody;
use crate::{
    answer::Answer,
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::Fields,
    parts::{StateBody, states},
    server::Api,
    within_reach,
};

/// The most parts that are inspected with a bow.
const MOST_PARTS: usize = 100;

/// A bow that was inspected as a whole, and why it may be shot.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ClearBow {
    #[schema(example = "2026-01-24T20:00:00Z", format = DateTime)]
    at: String,
    #[schema(
        example = "limbs, tips and string looked over, nothing cut or cracked",
        min_length = 1,
        max_length = 2000
    )]
    reason: String,
    /// Parts that were under the bow then, were inspected too and found fit; each is cleared for the same
    /// reason.
    #[schema(example = json!(null), max_items = 100)]
    part_ids: Option<Vec<Uuid>>,
}

/// An inspection of a bow as a whole.
#[derive(Serialize, ToSchema)]
pub(crate) struct ClearanceBody {
    id: Uuid,
    bow_id: Uuid,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    reason: String,
    entered_by_member_id: Uuid,
    #[schema(value_type = String, format = DateTime)]
    received_at: Timestamp,
}

impl From<&BowClearance> for ClearanceBody {
    fn from(clearance: &BowClearance) -> Self {
        Self {
            id: clearance.id.0,
            bow_id: clearance.bow_id.0,
            at: clearance.at,
            reason: clearance.reason.as_str().to_owned(),
            entered_by_member_id: clearance.entered_by.0,
            received_at: clearance.received_at,
        }
    }
}

/// What is put on record of a clearance.
#[derive(Serialize)]
struct ClearedOnRecord<'a> {
    #[serde(flatten)]
    clearance: &'a ClearanceBody,
    /// The parts that were inspected with the bow.
    part_ids: Vec<Uuid>,
}

/// A clearance that is on record, and what it made of the bow.
#[derive(Serialize, ToSchema)]
pub(crate) struct ClearedBody {
    clearance: ClearanceBody,
    bow: BowNowBody,
    /// Every part that is under the bow now, as it is after this. One that was under it when it happened
    /// and was not named stays stopped.
    parts: Vec<StateBody>,
}

impl ClearBow {
    fn parse(&self, who: SignedIn, bow: &Bow, now: Timestamp) -> Result<BowClearance, ApiError> {
        let mut fields = Fields::default();
        let at = fields.past("/at", &self.at, now);
        let reason = fields.take("/reason", clearances::reason(&self.reason));
        let built = || {
            Some(BowClearance {
                id: fresh_id::<ClearanceId>(now),
                bow_id: bow.id,
                at: at?,
                reason: reason?,
                entered_by: who.member,
                received_at: now,
            })
        };
        fields.finish(built())
    }

    /// The parts that were inspected too: each once, and under the bow at that time.
    fn parts(&self, under: &[PartId]) -> Result<Vec<PartId>, ApiError> {
        let given = self.part_ids.as_deref().unwrap_or_default();
        let (mut fields, mut named) = (Fields::default(), BTreeSet::new());
        if given.len() > MOST_PARTS {
            fields.refuse("/part_ids", "bad_length", format!("must be at most {MOST_PARTS}"));
            return fields.finish(None);
        }
        for (n, part) in given.iter().map(|id| PartId(*id)).enumerate() {
            let pointer = format!("/part_ids/{n}");
            if !under.contains(&part) {
                let detail = "must be a part that was under the bow at that time";
                fields.refuse(&pointer, "not_under_bow", detail);
            } else if !named.insert(part) {
                fields.refuse(&pointer, "duplicate", "was named before; each part once");
            }
        }
        fields.finish(Some(named.into_iter().collect()))
    }
}

/// Puts the inspection of a part on record that was made with the bow's.
fn clear_part(
    tx: &mut Tx<'_>,
    who: SignedIn,
    part: PartId,
    (at, reason, now): (Timestamp, &Note, Timestamp),
) -> Result<(), ApiError> {
    let part = store::parts::get_to_change(tx, who.club, part)?;
    within_reach::may_tend_part(tx, who, part.id)?;
    part.in_use()?;
    let id = fresh_id::<UpkeepId>(now);
    let work = Upkeep::new(id, part.id, UpkeepTask::Inspected, at, who.member);
    let work = Upkeep { note: reason.clone(), received_at: now, ..work };
    let work = work.judged_by(who.looks_after_others().is_ok());
    Ok(store::upkeep::record(tx, who.club, &part, &work)?)
}

/// Clear a bow that was inspected as a whole: for a coach or owner within whose reach it is, and who says
/// why it may be shot. It lifts what forbids shooting the bow, for that time and before; parts that were
/// under it when it happened are lifted one by one, by naming them here or by an inspection of their own.
#[utoipa::path(
    operation_id = "clear_bow",
    tag = "bows",
    params(("id" = Uuid, Path, description = "The bow")),
    request_body = ClearBow,
    responses((status = 201, description = "On record", body = ClearedBody))
)]
#[post("/bows/{id}/clearance")]
pub(crate) async fn clear_bow(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: Body<ClearBow>,
) -> Result<HttpResponse, ApiError> {
    who.looks_after_others()?;
    let (Body(body, once), id, now) = (body, BowId(id.into_inner()), api.now());
    api.write_once(who, once, move |tx| {
        let bow = store::bows::get(tx, who.club, id)?;
        who.may_tend(tx, &bow)?;
        let clearance = body.parse(who, &bow, now)?;
        let at = clearance.at;
        // First, since it holds the club: what hangs where stays as it is from here on.
        store::bow_clearances::add(tx, who.club, &clearance)?;
        let under = store::fittings::under_bow(tx, who.club, id, at)?;
        let inspected = body.parts(&under)?;
        for &part in &inspected {
            clear_part(tx, who, part, (at, &clearance.reason, now))?;
        }
        let club = store::clubs::get(tx, who.club)?;
        let under = store::fittings::under_bow(tx, who.club, id, now)?;
        let cleared = ClearanceBody::from(&clearance);
        let changed = Changed::of("clear_bow", Subject::Bow, id.0).about(Some(id));
        let with_parts = ClearedOnRecord {
            clearance: &cleared,
            part_ids: inspected.iter().map(|part| part.0).collect(),
        };
        who.record(tx, now, changed.after(&with_parts)?)?;
        Answer::created(&ClearedBody {
            clearance: cleared,
            bow: BowNowBody::read(tx, (who, &club), &bow, now)?,
            parts: states(tx, &club, &under, now)?,
        })
    })
    .await
}
