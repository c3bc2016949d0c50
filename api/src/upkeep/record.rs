//! Recording work on a part. Winding a new serving is more than a record: the old serving's life
//! ends and a new one begins on the same string.

use std::collections::BTreeMap;

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    ids::{PartId, UpkeepId},
    parts::{Part, PartKind},
    upkeep::{Finding, Grade, Upkeep, UpkeepError, UpkeepTask, looked_for},
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use store::{Tx, fresh_id};
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use super::body::WorkBody;
use crate::{
    answer::Answer,
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::Fields,
    object::Object,
    openapi::one_of,
    parts::{PartBody, one},
    server::Api,
    within_reach,
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
    /// What was looked for at an inspection, each thing once.
    #[schema(value_type = Option<Vec<FoundAt>>, example = json!(null))]
    findings: Option<Vec<Object<FoundAt>>>,
    /// The nocking point above square (-100 to 100), or the brace height (100 to 400), where that is
    /// what was set.
    #[schema(example = json!(null), minimum = -100, maximum = 400)]
    measured_mm: Option<f64>,
    /// An inspection by a coach or owner needs one to lift what forbids shooting: it is their reason.
    #[schema(max_length = 2000)]
    note: Option<String>,
}

/// Something that was looked for, and how bad it is.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct FoundAt {
    #[schema(schema_with = findings)]
    finding: String,
    /// 0 none, 1 light, 2 marked, 3 unsafe: not to be shot.
    #[schema(example = 1, minimum = 0, maximum = 3)]
    grade: i64,
}

fn tasks() -> RefOr<Schema> {
    let known = UpkeepTask::ALL.iter().filter(|task| **task != UpkeepTask::Replaced);
    one_of(known.map(|task| task.as_str()))
}

fn findings() -> RefOr<Schema> {
    one_of(Finding::ALL.iter().map(|finding| finding.as_str()))
}

/// Work that is on record now, and what it made of the part.
#[derive(Serialize, ToSchema)]
pub(crate) struct RecordedBody {
    #[serde(flatten)]
    work: WorkBody,
    /// The part it was done on.
    part: PartBody,
    /// The part that took its place, after re-serving.
    successor: Option<PartBody>,
}

/// The work, and which part took the other's place, for the record of who entered it.
#[derive(Serialize)]
struct Done<'a> {
    #[serde(flatten)]
    work: &'a WorkBody,
    #[serde(rename = "successor_part_id")]
    successor: Option<Uuid>,
}

impl RecordUpkeep {
    fn parse(&self, who: SignedIn, now: Timestamp) -> Result<Upkeep, ApiError> {
        let mut fields = Fields::default();
        let task = fields.word("/task", &self.task, UpkeepTask::parse, UpkeepTask::ALL);
        if task == Some(UpkeepTask::Replaced) {
            let detail = "change the string of its bow, or retire the part and fit another";
            fields.refuse("/task", "not_upkeep", detail);
        }
        let at = fields.past("/at", &self.at, now);
        let note = fields.note("/note", self.note.as_deref());
        let findings = self.found(&mut fields, task);
        let measured_mm = task
            .zip(self.measured_mm)
            .and_then(|(task, length_mm)| fields.take("/measured_mm", task.measured(length_mm)));
        let built = || {
            let (id, part) = (fresh_id::<UpkeepId>(now), PartId(self.part_id));
            let work = Upkeep::new(id, part, task?, at?, who.member);
            let work = Upkeep { note: note?, received_at: now, findings, measured_mm, ..work };
            Some(work.judged_by(who.looks_after_others().is_ok()))
        };
        fields.finish(built())
    }

    /// Passes work, and findings, that belong to a part of that kind.
    fn belongs_to(&self, kind: PartKind, work: &Upkeep) -> Result<(), ApiError> {
        let mut fields = Fields::default();
        fields.take("/task", work.task.done_on(kind));
        for (n, Object(one)) in self.findings.iter().flatten().enumerate() {
            let finding = Finding::parse(&one.finding).unwrap_or(Finding::Other);
            fields.take(&format!("/findings/{n}/finding"), looked_for(finding, kind));
        }
        fields.finish(Some(()))
    }

    fn found(&self, fields: &mut Fields, task: Option<UpkeepTask>) -> BTreeMap<Finding, Grade> {
        let mut found = BTreeMap::new();
        let Some(given) = &self.findings else { return found };
        if task.is_some_and(|task| task != UpkeepTask::Inspected) {
            fields.take::<(), _>("/findings", Err(UpkeepError::NotInspected));
        }
        for (n, Object(one)) in given.iter().enumerate() {
            fields.within(&format!("/findings/{n}"), |fields| {
                let finding = fields.word("/finding", &one.finding, Finding::parse, Finding::ALL);
                let grade = Grade::new(one.grade).ok_or(UpkeepError::Grade);
                let grade = fields.take("/grade", grade);
                let (Some(finding), Some(grade)) = (finding, grade) else { return };
                if found.insert(finding, grade).is_some() {
                    fields.take::<(), _>("/finding", Err(UpkeepError::FoundTwice));
                }
            });
        }
        found
    }
}

/// Puts work on record; gives the part that took the old one's place, if one did.
fn record(
    tx: &mut Tx<'_>,
    who: SignedIn,
    part: &Part,
    work: &Upkeep,
) -> Result<Option<PartId>, ApiError> {
    if work.task != UpkeepTask::ReServed {
        store::upkeep::record(tx, who.club, part, work)?;
        return Ok(None);
    }
    // What is under the serving has to be seen by somebody who may lift a stop.
    let stopped = store::stops::parts(tx, who.club)?.contains(&part.id);
    if stopped && who.looks_after_others().is_err() {
        let detail = "it must not be shot: a coach or owner inspects it, and what is under it, before it \
                      is served anew";
        let (code, detail) = ("would_lift_stop", detail.to_owned());
        return Err(ApiError::Conflict { code, detail });
    }
    store::upkeep::re_serve::<ApiError>(tx, who.club, part, work).map(Some)
}

/// Record work on a part within reach, of those that are done on parts of its kind; an inspection names
/// findings that its kind is looked over for, as `GET /checklists` lists them. What is found unsafe at an inspection forbids shooting the part;
/// an inspection by a coach or owner with a note, and nothing unsafe found, lifts that.
#[utoipa::path(
    operation_id = "record_upkeep",
    tag = "upkeep",
    request_body = RecordUpkeep,
    responses((status = 201, description = "On record", body = RecordedBody))
)]
#[post("/upkeep")]
pub(crate) async fn record_upkeep(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<RecordUpkeep>,
) -> Result<HttpResponse, ApiError> {
    let (Body(body, once), now) = (body, api.now());
    api.write_once(who, once, move |tx| {
        let work = body.parse(who, now)?;
        let part = store::parts::get_to_change(tx, who.club, work.part_id)?;
        within_reach::may_tend_part(tx, who, part.id)?;
        part.in_use()?;
        body.belongs_to(part.kind, &work)?;
        let successor = record(tx, who, &part, &work)?;
        let (id, work) = (work.id, WorkBody::from(work));
        let recorded = Changed::of("record_upkeep", Subject::Upkeep, id.0);
        let recorded = recorded.about(within_reach::bow_of_part(tx, who, part.id)?);
        who.record(
            tx,
            now,
            recorded.after(&Done { work: &work, successor: successor.map(|part| part.0) })?,
        )?;
        let body = RecordedBody {
            work,
            part: one(tx, who.club, part.id, now)?,
            successor: successor.map(|id| one(tx, who.club, id, now)).transpose()?,
        };
        Ok(Answer::created(&body)?.at(&format!("/upkeep/{id}")))
    })
    .await
}
