//! What parts are looked over for at an inspection, and what follows from what is found.

use actix_web::{get, web};
use domain::{
    parts::PartKind,
    safety,
    upkeep::{Finding, Grade, UpkeepTask},
};
use serde::{Deserialize, Serialize};
use utoipa::{
    IntoParams, ToSchema,
    openapi::{RefOr, Schema},
};

use crate::{auth::SignedIn, error::ApiError, fields::Fields, openapi::one_of, paging::Query};

/// Of which kind of part.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct ChecklistsQuery {
    /// Only that kind; absent means all.
    #[param(schema_with = kinds)]
    kind: Option<String>,
}

fn kinds() -> RefOr<Schema> {
    one_of(PartKind::ALL.iter().map(|kind| kind.as_str()))
}

/// What parts are looked over for.
#[derive(Serialize, ToSchema)]
pub(crate) struct ChecklistsBody {
    /// A checklist for each kind of part.
    data: Vec<ChecklistBody>,
    /// How bad something is, and what follows from it. Common practice, no source.
    grades: Vec<GradeBody>,
    /// What goes before any of it.
    #[schema(
        example = "Local rules, the bow and string maker's instructions and a qualified bow technician come first."
    )]
    caution: &'static str,
}

/// What a kind of part is looked over for. Common practice, no source.
#[derive(Serialize, ToSchema)]
pub(crate) struct ChecklistBody {
    #[schema(example = "center_serving")]
    kind: &'static str,
    /// In the order in which it is looked for.
    findings: Vec<LookBody>,
    /// The work that is done on parts of the kind.
    #[schema(example = json!(["inspected", "re_served", "other"]))]
    tasks: Vec<&'static str>,
}

/// One thing that is looked for.
#[derive(Serialize, ToSchema)]
pub(crate) struct LookBody {
    #[schema(example = "flat_serving")]
    finding: &'static str,
    #[schema(example = "served area flattened above or below the nocks")]
    phrase: &'static str,
}

/// A grade and what follows from it.
#[derive(Serialize, ToSchema)]
pub(crate) struct GradeBody {
    #[schema(example = 2, minimum = 0, maximum = 3)]
    grade: i32,
    #[schema(example = "marked")]
    word: &'static str,
    #[schema(example = "mend it soon")]
    meaning: &'static str,
}

impl ChecklistBody {
    fn of(kind: PartKind) -> Self {
        let look =
            |&finding: &Finding| LookBody { finding: finding.as_str(), phrase: finding.phrase() };
        let recorded = |task: &&UpkeepTask| task.fits(kind) && **task != UpkeepTask::Replaced;
        Self {
            kind: kind.as_str(),
            findings: kind.looked_over_for().iter().map(look).collect(),
            tasks: UpkeepTask::ALL.iter().filter(recorded).map(|task| task.as_str()).collect(),
        }
    }
}

impl From<Grade> for GradeBody {
    fn from(grade: Grade) -> Self {
        Self { grade: grade.number(), word: grade.label(), meaning: grade.meaning() }
    }
}

/// What a part of a kind, or of every kind, is looked over for at an inspection, and what each grade
/// means.
#[utoipa::path(
    operation_id = "list_checklists",
    tag = "upkeep",
    params(ChecklistsQuery),
    responses((status = 200, description = "The checklists", body = ChecklistsBody))
)]
#[get("/checklists")]
pub(crate) async fn list_checklists(
    _who: SignedIn,
    query: Query<ChecklistsQuery>,
) -> Result<web::Json<ChecklistsBody>, ApiError> {
    let mut fields = Fields::default();
    let kinds = match &query.0.kind {
        None => Some(PartKind::ALL.to_vec()),
        Some(word) => {
            fields.word("/kind", word, PartKind::parse, PartKind::ALL).map(|kind| vec![kind])
        }
    };
    Ok(web::Json(ChecklistsBody {
        data: fields.finish(kinds)?.into_iter().map(ChecklistBody::of).collect(),
        grades: Grade::ALL.map(GradeBody::from).into(),
        caution: safety::FIRST,
    }))
}
