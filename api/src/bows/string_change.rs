//! Changing the string of a bow.

use actix_web::{HttpResponse, post, web};
use domain::{
    audit::Subject,
    clubs::Club,
    ids::{BowId, PartId},
    parts::{End, Part, PartKind, Retirement},
    string_change::{NewString, Setting, StringChange},
    upkeep::UpkeepTask,
};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{
    ToSchema,
    openapi::{RefOr, Schema},
};
use uuid::Uuid;

use crate::{
    answer::Answer,
    audit::Changed,
    auth::SignedIn,
    body::Body,
    error::ApiError,
    fields::Fields,
    object::Object,
    openapi::one_of,
    parts::{PartBody, PartDetails, StateBody, ends, one, states},
    server::Api,
    within_reach,
};

/// The most servings that are put on record with one string.
const MOST_SERVINGS: usize = 10;

/// A change of a bow's string.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChangeString {
    #[schema(example = "2026-01-24T18:30:00Z", format = DateTime)]
    at: String,
    /// The string that goes on, if it is on record; or give `new_part`.
    #[schema(example = json!(null))]
    new_part_id: Option<Uuid>,
    /// The string that goes on, to be put on record; or give `new_part_id`.
    #[schema(value_type = Option<NewPart>)]
    new_part: Option<Object<NewPart>>,
    /// How the life of the string that comes off ended; absent if it is kept.
    #[schema(value_type = Option<OldEnd>)]
    old: Option<Object<OldEnd>>,
    /// Servings on the new string that are to be put on record with it.
    #[schema(value_type = Option<Vec<NewServing>>, max_items = 10)]
    servings: Option<Vec<Object<NewServing>>>,
    /// Present if the nocking point was set.
    #[schema(value_type = Option<NockingPointSet>)]
    nocking_point: Option<Object<NockingPointSet>>,
    /// How the bow was set afterwards.
    #[schema(value_type = Option<SetUp>)]
    setup: Option<Object<SetUp>>,
}

/// A string to be put on record.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewPart {
    #[schema(example = "Red 20-strand", max_length = 200)]
    name: String,
    #[schema(example = "HMPE", max_length = 200)]
    material: Option<String>,
    #[schema(example = 20, minimum = 2, maximum = 100)]
    strands: Option<i64>,
    #[schema(example = "2026-01-20", format = Date)]
    made_on: Option<String>,
    /// Shots it had before its shots were logged here; goes with `starting_at`.
    #[schema(example = 0, minimum = 0, maximum = 1_000_000)]
    starting_shots: Option<i64>,
    #[schema(example = "2026-01-20T00:00:00Z", format = DateTime)]
    starting_at: Option<String>,
    /// In the club's currency.
    #[schema(example = 18.5, minimum = 0, maximum = 1_000_000)]
    unit_cost: Option<f64>,
}

/// How the life of the old string ended.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OldEnd {
    #[schema(schema_with = ends)]
    end: String,
    #[schema(example = "fuzzy below the loop", max_length = 200)]
    reason: String,
}

/// A serving to be put on record.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NewServing {
    /// `center_serving` unless given.
    #[schema(schema_with = serving_kinds)]
    kind: Option<String>,
    #[schema(example = "Center serving", max_length = 200)]
    name: String,
    #[schema(example = "braided polyester", max_length = 200)]
    material: Option<String>,
}

/// How the nocking point was set.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NockingPointSet {
    /// Above square.
    #[schema(example = 3.0, minimum = -100, maximum = 100)]
    measured_mm: Option<f64>,
    #[schema(max_length = 2000)]
    note: Option<String>,
}

/// How the bow was set.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SetUp {
    #[schema(example = 222.5, minimum = 100, maximum = 400)]
    brace_height_mm: Option<f64>,
    /// Goes with `brace_height_mm`.
    #[schema(max_length = 2000)]
    note: Option<String>,
}

const SERVINGS: [PartKind; 2] = [PartKind::CenterServing, PartKind::EndServing];

fn serving_kinds() -> RefOr<Schema> {
    one_of(SERVINGS.iter().map(|kind| kind.as_str()))
}

/// What came of it.
#[derive(Serialize, ToSchema)]
pub(crate) struct StringChangeBody {
    bow_id: Uuid,
    /// The string that came off; null if there was none.
    old_part: Option<PartBody>,
    /// The string that is on the bow now.
    new_part: PartBody,
    /// The servings that were put on record with it.
    servings: Vec<StateBody>,
}

/// Which string was on the bow, for the record of who changed it.
#[derive(Serialize)]
struct Strung {
    string_part_id: Option<Uuid>,
    at: Option<Timestamp>,
}

impl ChangeString {
    fn parse(self, who: SignedIn, club: &Club, now: Timestamp) -> Result<StringChange, ApiError> {
        let mut fields = Fields::default();
        let at = fields.past("/at", &self.at, now);
        let new = new_string(&mut fields, self.new_part_id, self.new_part, now);
        let old_end = self.old.map(|Object(old)| {
            fields.within("/old", |fields| {
                let end = fields.word("/end", &old.end, End::parse, End::ALL);
                let reason = fields.name("/reason", &old.reason);
                Some(Retirement { at: at?, end: end?, reason: reason? })
            })
        });
        let made_on = at.map(|at| club.zone.date_of(at));
        let servings = servings(&mut fields, self.servings.unwrap_or_default(), now);
        let servings = servings.into_iter().map(|serving| Part { made_on, ..serving }).collect();
        let nocking_point = self.nocking_point.map(|Object(set)| {
            let task = UpkeepTask::NockingPointSet;
            fields.within("/nocking_point", |fields| {
                setting(fields, task, "/measured_mm", set.measured_mm, set.note.as_deref())
            })
        });
        let setup = self.setup.and_then(|Object(set)| brace_height(&mut fields, &set));
        let built = || {
            Some(StringChange {
                at: at?,
                new: new?,
                old_end: old_end.flatten(),
                servings,
                settings: nocking_point.flatten().into_iter().chain(setup).collect(),
                entered_by: who.member,
                received_at: now,
            })
        };
        fields.finish(built())
    }
}

fn new_string(
    fields: &mut Fields,
    known: Option<Uuid>,
    made: Option<Object<NewPart>>,
    now: Timestamp,
) -> Option<NewString> {
    match (known, made) {
        (Some(id), None) => Some(NewString::Known(PartId(id))),
        (None, Some(Object(part))) => fields.within("/new_part", |fields| {
            let details = PartDetails {
                name: part.name,
                material: part.material,
                strands: part.strands,
                made_on: part.made_on,
                starting_shots: part.starting_shots,
                starting_at: part.starting_at,
                unit_cost: part.unit_cost,
            };
            details.parse(fields, Some(PartKind::Bowstring), now).map(NewString::Made)
        }),
        (None, None) => {
            fields.refuse("/new_part", "missing", "give new_part_id or new_part");
            None
        }
        (Some(_), Some(_)) => {
            fields.refuse("/new_part", "two_strings", "give new_part_id or new_part, not both");
            None
        }
    }
}

fn servings(fields: &mut Fields, given: Vec<Object<NewServing>>, now: Timestamp) -> Vec<Part> {
    if given.len() > MOST_SERVINGS {
        let detail = format!("must be at most {MOST_SERVINGS} servings");
        fields.refuse("/servings", "too_many", detail);
        return Vec::new();
    }
    let serving = |(n, Object(one)): (usize, Object<NewServing>)| {
        fields.within(&format!("/servings/{n}"), |fields| {
            let kind = match one.kind {
                Some(word) => fields.word("/kind", &word, serving_kind, &SERVINGS),
                None => Some(PartKind::CenterServing),
            };
            let details = PartDetails {
                name: one.name,
                material: one.material,
                strands: None,
                made_on: None,
                starting_shots: None,
                starting_at: None,
                unit_cost: None,
            };
            details.parse(fields, kind, now)
        })
    };
    given.into_iter().enumerate().filter_map(serving).collect()
}

fn serving_kind(word: &str) -> Option<PartKind> {
    PartKind::parse(word).filter(|kind| SERVINGS.contains(kind))
}

fn setting(
    fields: &mut Fields,
    task: UpkeepTask,
    pointer: &str,
    measured_mm: Option<f64>,
    note: Option<&str>,
) -> Option<Setting> {
    let measured_mm = fields.take_if(pointer, measured_mm, |length_mm| task.measured(length_mm));
    let note = fields.note("/note", note);
    Some(Setting { task, measured_mm, note: note? })
}

fn brace_height(fields: &mut Fields, set: &SetUp) -> Option<Setting> {
    let (task, pointer) = (UpkeepTask::BraceHeightSet, "/brace_height_mm");
    fields.within("/setup", |fields| {
        if set.brace_height_mm.is_none() {
            if set.note.is_some() {
                fields.refuse(pointer, "missing", "goes with note");
            }
            return None;
        }
        setting(fields, task, pointer, set.brace_height_mm, set.note.as_deref())
    })
}

/// Change the string of a bow in one go: the old one comes off, the new one goes on with its servings,
/// and what was set is on record. Whoever may look after the bow may do it.
#[utoipa::path(
    operation_id = "change_string",
    tag = "bows",
    params(("id" = Uuid, Path, description = "The bow")),
    request_body = ChangeString,
    responses((status = 201, description = "Changed", body = StringChangeBody))
)]
#[post("/bows/{id}/string-change")]
pub(crate) async fn change_string(
    api: web::Data<Api>,
    who: SignedIn,
    id: web::Path<Uuid>,
    body: Body<ChangeString>,
) -> Result<HttpResponse, ApiError> {
    let (Body(body, once), id, now) = (body, BowId(id.into_inner()), api.now());
    api.write_once(who, once, move |tx| {
        let club = store::clubs::get(tx, who.club)?;
        let change = body.parse(who, &club, now)?;
        let bow = store::bows::get(tx, who.club, id)?;
        who.may_tend(tx, &bow)?;
        if let NewString::Known(part) = &change.new {
            store::parts::get_to_change(tx, who.club, *part)?;
            within_reach::may_use_part(tx, who, *part)?;
        }
        let changed = within_reach::keeping_stops(tx, who, |tx| {
            store::string_change::change::<ApiError>(tx, who.club, id, &change)
        })?;
        let record = Changed::of("change_string", Subject::Bow, id.0).about(Some(id));
        let record =
            record.before(&Strung { string_part_id: changed.old.map(|old| old.0), at: None })?;
        let now_strung = Strung { string_part_id: Some(changed.new.0), at: Some(change.at) };
        who.record(tx, now, record.after(&now_strung)?)?;
        let old_part = changed.old.map(|old| one(tx, who.club, old, now)).transpose()?;
        Answer::created(&StringChangeBody {
            bow_id: id.0,
            old_part,
            new_part: one(tx, who.club, changed.new, now)?,
            servings: states(tx, &club, &changed.servings, now)?,
        })
    })
    .await
}
