//! A file into its table.

use std::time::Duration;

use actix_web::{
    FromRequest, HttpMessage, HttpRequest, HttpResponse,
    dev::Payload,
    http::header::{CONTENT_DISPOSITION, CONTENT_LENGTH, CONTENT_TYPE},
    post, web,
};
use futures_util::future::LocalBoxFuture;
use serde::Deserialize;
use store::StoreError;
use utoipa::{
    IntoParams,
    openapi::{RefOr, Schema},
};

use super::{actor, table, tables};
use crate::{
    answer::Answer,
    auth::SignedIn,
    body::collect,
    error::ApiError,
    fields::Fields,
    once::Once,
    openapi::one_of,
    paging::Query,
    server::Api,
    tables::{
        Dates, Import, Imported, MOST_BYTES, Mode, Report, Sheet, Table, bad_rows, import, read,
    },
};

/// Into which table, and how.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct ImportQuery {
    /// Which table; all but `shot_logs` are for owners of the club.
    #[param(schema_with = tables)]
    table: String,
    /// Only say what would be done, which is so unless this is `false`.
    #[param(example = true)]
    dry_run: Option<bool>,
    /// `all`: every row or none. `each`: every row that can be taken.
    #[param(schema_with = modes)]
    mode: Option<String>,
    /// How days such as 3/4/2027 are to be read, where the file does not show it.
    #[param(schema_with = dates)]
    dates: Option<String>,
    /// How the rows are listed that cannot be taken: `json` in the report, or after a dry run `csv`, as a
    /// file to be put right.
    #[param(schema_with = listings)]
    problems: Option<String>,
}

fn modes() -> RefOr<Schema> {
    one_of(Mode::BOTH.map(Mode::as_str))
}

fn dates() -> RefOr<Schema> {
    one_of(Dates::ALL.map(Dates::as_str))
}

fn listings() -> RefOr<Schema> {
    one_of(LISTINGS)
}

/// How the rows that cannot be taken are listed: in the report, or as a file.
const LISTINGS: [&str; 2] = ["json", "csv"];

/// What the words of a query stand for.
struct Asked {
    table: Table,
    dates: Option<Dates>,
    mode: Mode,
    dry_run: bool,
    as_csv: bool,
}

impl ImportQuery {
    fn parse(&self, who: SignedIn) -> Result<Asked, ApiError> {
        let table = table(who, &self.table)?;
        let mut fields = Fields::default();
        let dry_run = self.dry_run.unwrap_or(true);
        let mode = self.mode.as_deref().unwrap_or(Mode::All.as_str());
        let mode = fields.word("/mode", mode, Mode::parse, &Mode::BOTH);
        let dates = self.dates.as_deref();
        let dates = dates.and_then(|word| fields.word("/dates", word, Dates::parse, &Dates::ALL));
        let listing = self.problems.as_deref().unwrap_or("json");
        let known = |word: &str| LISTINGS.into_iter().find(|one| *one == word);
        let as_csv = fields.word("/problems", listing, known, &LISTINGS) == Some("csv");
        if as_csv && !dry_run {
            fields.refuse("/problems", "only_dry_run", "csv goes only with a dry run");
        }
        fields.finish(mode.map(|mode| Asked { table, dates, mode, dry_run, as_csv }))
    }
}

/// The whole of a file that was sent, and the key of a request that may come again.
pub(crate) struct SentFile {
    bytes: Vec<u8>,
    once: Once,
}

/// A file of the most bytes comes through a slow line in that time.
const TIME_LIMIT: Duration = Duration::from_mins(1);
const MEDIA: [&str; 2] = ["text/csv", "application/octet-stream"];
const NOT_CSV: &str = "send the file as Content-Type: text/csv";

impl FromRequest for SentFile {
    type Error = ApiError;
    type Future = LocalBoxFuture<'static, Result<Self, ApiError>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let payload = payload.take();
        let request = request.clone();
        Box::pin(async move {
            if !MEDIA.iter().any(|media| request.content_type().eq_ignore_ascii_case(media)) {
                return Err(ApiError::NotCsv(NOT_CSV));
            }
            let length = request.headers().get(CONTENT_LENGTH);
            let length = length.and_then(|text| text.to_str().ok()?.parse::<usize>().ok());
            if length.is_some_and(|length| length > MOST_BYTES) {
                let detail = format!("a file may have at most {MOST_BYTES} bytes");
                return Err(ApiError::TooLarge(detail));
            }
            let bytes = collect(payload, MOST_BYTES, TIME_LIMIT).await?;
            // The same file for another table, or in earnest, is another request.
            let once = Once::of(&request, &[request.query_string().as_bytes(), &bytes])?;
            Ok(Self { bytes, once })
        })
    }
}

/// Why a transaction is given up: it was only to show what would be, or it failed.
enum GivenUp {
    Shown(Box<Imported>),
    Failed(ApiError),
}

impl From<StoreError> for GivenUp {
    fn from(error: StoreError) -> Self {
        Self::Failed(error.into())
    }
}

/// Import a CSV file into a table. It may have been written by a spreadsheet of another country: the
/// encoding, the delimiter, the decimal mark, the order of the columns and their names are found out and
/// reported, and what is not certain is refused. A row without an id gets one from what it says, so that
/// the same file again adds nothing. Wear, stops and limits follow as from any other entry. The import
/// itself sends no mail and invites nobody; what it brings in that forbids shooting or is due is mailed by
/// the next round of the worker, as if it had been entered.
#[utoipa::path(
    operation_id = "import_table",
    tag = "records",
    params(ImportQuery),
    request_body(content(
        (String = "text/csv", example = "bow,at,shots\r\nGrey recurve,2026-01-24,72\r\n"),
        (Vec<u8> = "application/octet-stream", example = "bow,at,shots")
    )),
    responses((
        status = 200,
        description = "How the file was read, and what became of its rows",
        content(
            (Report = "application/json"),
            (String = "text/csv", example = "bow,at,shots\r\n")
        )
    ))
)]
#[post("/import")]
pub(crate) async fn import_table(
    api: web::Data<Api>,
    who: SignedIn,
    query: Query<ImportQuery>,
    file: SentFile,
) -> Result<HttpResponse, ApiError> {
    let Query(query) = query;
    let asked = query.parse(who)?;
    let SentFile { bytes, once } = file;
    // Off the threads that answer others: a large file takes its time.
    let sheet = tokio::task::spawn_blocking(move || read(&bytes));
    let sheet = sheet.await.map_err(|error| ApiError::Internal(error.to_string()))??;
    if asked.dry_run {
        show(&api, who, asked, sheet).await
    } else {
        write(&api, who, (asked, once), sheet).await
    }
}

/// What would become of a file: all is done, and then given up.
async fn show(
    api: &Api,
    who: SignedIn,
    asked: Asked,
    sheet: Sheet,
) -> Result<HttpResponse, ApiError> {
    let (now, as_csv) = (api.now(), asked.as_csv);
    let shown: Result<(), GivenUp> = api
        .store
        .write(move |tx| {
            let imported = import(tx, actor(who), &asked.of(&sheet), now);
            Err(match imported {
                Ok(imported) => GivenUp::Shown(Box::new(imported)),
                Err(refusal) => GivenUp::Failed(refusal.into()),
            })
        })
        .await;
    match shown {
        Ok(()) => Err(ApiError::Internal("a dry run was kept".to_owned())),
        Err(GivenUp::Failed(error)) => Err(error),
        Err(GivenUp::Shown(imported)) if as_csv => {
            let file =
                bad_rows(&imported).map_err(|error| ApiError::Internal(error.to_string()))?;
            Ok(HttpResponse::Ok()
                .insert_header((CONTENT_TYPE, "text/csv; charset=utf-8"))
                .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"to-put-right.csv\""))
                .body(file))
        }
        Err(GivenUp::Shown(imported)) => Ok(Answer::ok(&imported.report)?.respond()),
    }
}

async fn write(
    api: &Api,
    who: SignedIn,
    (asked, once): (Asked, Once),
    sheet: Sheet,
) -> Result<HttpResponse, ApiError> {
    let now = api.now();
    api.write_once(who, once, move |tx| {
        let report = import(tx, actor(who), &asked.of(&sheet), now)?.report;
        if report.written { Answer::ok(&report) } else { Err(ApiError::NotImported(report.into())) }
    })
    .await
}

impl Asked {
    const fn of<'s>(&self, sheet: &'s Sheet) -> Import<'s> {
        let Self { table, dates, mode, dry_run, .. } = *self;
        Import { table, sheet, dates, mode, dry_run }
    }
}
