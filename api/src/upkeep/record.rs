//! Recording work on a part. Winding a new serving is more than a record: the old serving's life
//! ends and a new one begins on the same string.

use actix_web::{HttpResponse, post, web};
use domain::{
    ids::{PartId, UpkeepId},
    parts::PartKind,
    upkeep::{Upkeep, UpkeepTask},
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use store::{Read, fresh_id};
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use crate::{
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::{FieldError, Fields},
    openapi::one_of,
    parts::{PartBody, one},
    server::Api,
};

/// Work that was done.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RecordUpkeep {
    part_id: Uuid,
    #[schema(schema_with = tasks)]
    task: String,
    #[schema(example = "2026-01-24T20:00:00Z", format = DateTime)]
    at: String,
    #[schema(max_length = 2000)]
    note: Option<String>,
}

fn tasks() -> RefOr<Schema> {
    let known = UpkeepTask::ALL.iter().filter(|task| **task != UpkeepTask::Replaced);
    one_of(known.map(|task| task.as_str()))
}

/// Work that is on record.
#[derive(Serialize, ToSchema)]
pub(crate) struct UpkeepBody {
    id: Uuid,
    #[schema(example = "waxed")]
    task: &'static str,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    note: String,
    entered_by_member_id: Uuid,
    /// The part it was done on.
    part: PartBody,
    /// The part that took its place, after re-serving.
    successor: Option<PartBody>,
}

impl RecordUpkeep {
    fn parse(&self, who: SignedIn, now: Timestamp) -> Result<Upkeep, ApiError> {
        let mut fields = Fields::default();
        let task = fields.word("/task", &self.task, UpkeepTask::parse, UpkeepTask::ALL);
        if task == Some(UpkeepTask::Replaced) {
            let detail = "retire the part, add the new one and fit it";
            fields.refuse("/task", "not_upkeep", detail);
        }
        let at = fields.past("/at", &self.at, now);
        let note = fields.note("/note", self.note.as_deref());
        let built = || {
            let (id, part) = (fresh_id::<UpkeepId>(now), PartId(self.part_id));
            let work = Upkeep::new(id, part, task?, at?, who.member);
            Some(Upkeep { note: note?, received_at: now, ..work })
        };
        fields.finish(built())
    }
}

/// Passes who may work on a part: coaches, owners, and the people of the bow it hangs under.
fn may_work_on(
    read: &mut Read<'_>,
    who: SignedIn,
    part: PartId,
    now: Timestamp,
) -> Result<(), ApiError> {
    if who.looks_after_others().is_ok() {
        return Ok(());
    }
    let club = store::clubs::get(read, who.club)?;
    let judged = store::due::of_parts(read, &club, &[part], now)?.pop();
    match judged.and_then(|one| one.bow) {
        Some(bow) => who.may_tend(read, &bow),
        None => Err(ApiError::Forbidden("an archer works on what hangs under a bow of theirs")),
    }
}

/// Record work on a part. An archer does so for what hangs under a bow they shoot, keep or own.
#[utoipa::path(
    operation_id = "record_upkeep",
    tag = "upkeep",
    request_body = RecordUpkeep,
    responses((status = 201, description = "On record", body = UpkeepBody))
)]
#[post("/upkeep")]
pub(crate) async fn record_upkeep(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<RecordUpkeep>,
) -> Result<HttpResponse, ApiError> {
    let now = api.now();
    let work = body.0.parse(who, now)?;
    let answer = api.store.write(move |tx| {
        let part = store::parts::get_to_change(tx, who.club, work.part_id)?;
        may_work_on(tx, who, part.id, now)?;
        part.in_use()?;
        let successor = if work.task == UpkeepTask::ReServed {
            if !matches!(part.kind, PartKind::CenterServing | PartKind::EndServing) {
                let error = FieldError::new("/part_id", "not_a_serving", "must be a serving");
                return Err(ApiError::Invalid(vec![error]));
            }
            Some(store::upkeep::re_serve::<ApiError>(tx, who.club, &part, &work)?)
        } else {
            store::upkeep::record(tx, who.club, &part, &work)?;
            None
        };
        Ok(UpkeepBody {
            id: work.id.0,
            task: work.task.as_str(),
            at: work.at,
            note: work.note.as_str().to_owned(),
            entered_by_member_id: who.member.0,
            part: one(tx, who.club, part.id, now)?,
            successor: successor.map(|id| one(tx, who.club, id, now)).transpose()?,
        })
    });
    Ok(HttpResponse::Created().json(answer.await?))
}
