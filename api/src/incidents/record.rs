//! Recording what happened to a bow.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    ids::{BowId, IncidentId},
    incidents::{Incident, IncidentKind},
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use store::fresh_id;
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use super::body::IncidentBody;
use crate::{
    answer::Answer,
    audit::Changed,
    auth::SignedIn,
    body::Body,
    bows::BowStopBody,
    error::ApiError,
    fields::Fields,
    openapi::one_of,
    parts::{StateBody, states},
    server::Api,
};

/// What happened.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RecordIncident {
    bow_id: Uuid,
    /// A dry fire (an arrow that broke at the nock is one too), a cut strand and limb damage forbid
    /// shooting.
    #[schema(schema_with = kinds)]
    kind: String,
    #[schema(example = "2026-01-24T18:40:00Z", format = DateTime)]
    at: String,
    #[schema(example = "the arrow broke at the nock", max_length = 2000)]
    note: Option<String>,
}

fn kinds() -> RefOr<Schema> {
    one_of(IncidentKind::ALL.iter().map(|kind| kind.as_str()))
}

/// An incident that is on record, and what is under its bow now.
#[derive(Serialize, ToSchema)]
pub(crate) struct HappenedBody {
    incident: IncidentBody,
    /// Why the bow must not be shot after this, whatever hangs on it; null if nothing says so.
    stop: Option<BowStopBody>,
    /// Every part that is under the bow now, as it is after this.
    parts: Vec<StateBody>,
}

impl RecordIncident {
    fn parse(&self, who: SignedIn, now: Timestamp) -> Result<Incident, ApiError> {
        let mut fields = Fields::default();
        let kind = fields.word("/kind", &self.kind, IncidentKind::parse, IncidentKind::ALL);
        let at = fields.past("/at", &self.at, now);
        let note = fields.note("/note", self.note.as_deref());
        let built = || {
            Some(Incident {
                id: fresh_id::<IncidentId>(now),
                bow_id: BowId(self.bow_id),
                kind: kind?,
                at: at?,
                note: note?,
                entered_by: who.member,
                received_at: now,
            })
        };
        fields.finish(built())
    }
}

/// Record what happened to a bow. If it forbids shooting, the bow and every part that was under it must
/// not be shot until a coach or owner has inspected it and said why it may be; nor must what comes under
/// the bow before one of them has.
#[utoipa::path(
    operation_id = "record_incident",
    tag = "incidents",
    request_body = RecordIncident,
    responses((status = 201, description = "On record", body = HappenedBody))
)]
#[post("/incidents")]
pub(crate) async fn record_incident(
    api: web::Data<Api>,
    who: SignedIn,
    body: Body<RecordIncident>,
) -> Result<HttpResponse, ApiError> {
    let (Body(body, once), now) = (body, api.now());
    api.write_once(who, once, move |tx| {
        let incident = body.parse(who, now)?;
        let bow = store::bows::get(tx, who.club, incident.bow_id)?;
        who.may_tend(tx, &bow)?;
        store::incidents::add(tx, who.club, &incident)?;
        let (id, incident) = (incident.id, IncidentBody::from(incident));
        let recorded = Changed::of("record_incident", Subject::Incident, id.0);
        who.record(tx, now, recorded.about(Some(bow.id)).after(&incident)?)?;
        let club = store::clubs::get(tx, who.club)?;
        let under = store::fittings::under_bow(tx, who.club, bow.id, now)?;
        let parts = states(tx, &club, &under, now)?;
        let stop = store::bow_stops::of_bow(tx, who.club, bow.id)?;
        let stop = stop.map(|stop| BowStopBody::of(stop, &club.zone));
        Answer::created(&HappenedBody { incident, stop, parts })
    })
    .await
}
