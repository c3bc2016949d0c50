//! The document of the API, made from the handlers.

use std::sync::LazyLock;

use actix_web::{App, HttpResponse, get};
use utoipa::{
    Modify, OpenApi,
    openapi::{
        Content, RefOr, Required, Response, ResponseBuilder, Schema,
        path::{Operation, ParameterBuilder, ParameterIn},
        schema::{ObjectBuilder, Ref, Type},
        security::{HttpAuthScheme, HttpBuilder, SecurityScheme},
    },
};
use utoipa_actix_web::AppExt;

use crate::{
    error::Problem,
    examples,
    paging::{NoQuery, Query},
    routes,
};

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Tautline",
        description = "Looks after the bows and strings of an archery club: shots on every string and serving, what is due and why, and reminders by mail. The club comes from the credential; times are RFC 3339 with an offset in and UTC out; every numeric name ends in its unit; errors are problem documents (RFC 9457).",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0")
    ),
    components(schemas(Problem)),
    modifiers(&Conventions),
    security(("bearer" = [])),
    tags(
        (name = "accounts", description = "Setting up a club and signing in"),
        (name = "club", description = "The club and its settings"),
        (name = "members", description = "The people of the club"),
        (name = "squads", description = "Archers under one or more coaches"),
        (name = "bows", description = "Bows"),
        (name = "parts", description = "Strings, servings and whatever else wears"),
        (name = "shot-logs", description = "The ledger"),
        (name = "upkeep", description = "Work done on parts"),
        (name = "incidents", description = "What happened to bows"),
        (name = "rules", description = "The club's rule book: which work, on which parts, at which limits"),
        (name = "due", description = "What is due, and why"),
        (name = "events", description = "Tournaments, and who goes to them"),
        (name = "feeds", description = "Calendars to subscribe to. Some calendar services fetch a subscribed calendar only every 8 to 24 hours: what cannot wait comes by mail"),
        (name = "audit", description = "Who changed what, when, from what to what"),
        (name = "reminders", description = "What was mailed to whom"),
        (name = "pages", description = "Small pages for the links in mails, for whoever is not signed in. They change nothing until their button is pressed"),
        (name = "records", description = "The club's record as CSV files, out and in"),
        (name = "operation", description = "For whoever runs the server")
    )
)]
struct Document;

/// What holds for all of it.
struct Conventions;

impl Modify for Conventions {
    fn modify(&self, openapi: &mut utoipa::openapi::OpenApi) {
        if let Some(components) = openapi.components.as_mut() {
            let bearer = HttpBuilder::new()
                .scheme(HttpAuthScheme::Bearer)
                .bearer_format("JWT")
                .description(Some("An access token from POST /api/v1/auth/sign-in"))
                .build();
            components.add_security_scheme("bearer", SecurityScheme::Http(bearer));
        }
    }
}

/// What the handlers' list is added to.
pub(crate) fn document() -> utoipa::openapi::OpenApi {
    Document::openapi()
}

/// The whole document as it is committed: pretty, with a line break at its end.
///
/// # Errors
/// When it cannot be written as JSON.
pub fn openapi_json() -> Result<String, serde_json::Error> {
    let (_app, mut openapi) =
        App::new().into_utoipa_app().openapi(document()).configure(routes::all).split_for_parts();
    for item in openapi.paths.paths.values_mut() {
        if let Some(post) = item.post.as_mut().filter(|post| post.security.is_none()) {
            add_header(post, "Idempotency-Key", false, ONCE);
        }
        for change in [&mut item.put, &mut item.patch, &mut item.delete].into_iter().flatten() {
            let revoking =
                matches!(change.operation_id.as_deref(), Some("revoke_token" | "revoke_feed"));
            if !revoking {
                add_header(change, "If-Match", true, OF_VERSION);
            }
        }
        let operations =
            [&mut item.get, &mut item.post, &mut item.put, &mut item.patch, &mut item.delete];
        for operation in operations.into_iter().flatten() {
            let is_page = operation.tags.iter().flatten().any(|tag| tag == PAGES);
            let problem = if is_page { other_page() } else { problem_document() };
            operation.responses.responses.insert("default".to_owned(), RefOr::T(problem));
        }
    }
    examples::add(&mut openapi);
    Ok(openapi.to_pretty_json()? + "\n")
}

/// The tag of what a browser shows.
const PAGES: &str = "pages";

fn problem_document() -> Response {
    ResponseBuilder::new()
        .description("Any other outcome, as a problem document")
        .content("application/problem+json", Content::new(Some(Ref::from_schema_name("Problem"))))
        .build()
}

fn other_page() -> Response {
    ResponseBuilder::new()
        .description("Any other outcome, as a page that says what to do")
        .content("text/html", Content::new(None::<RefOr<Schema>>))
        .build()
}

const ONCE: &str = "A key of your own, of 1 to 200 visible ASCII characters: sent again with the same \
    key and body, the request is done once and answered as before.";
const OF_VERSION: &str = "The ETag that the thing was read with; `*` for whatever version it has.";

/// Adds a header to an operation that has not named it itself.
fn add_header(operation: &mut Operation, name: &str, required: bool, words: &str) {
    let parameters = operation.parameters.get_or_insert_default();
    if parameters.iter().any(|one| matches!(one, RefOr::T(one) if one.name == name)) {
        return;
    }
    let text = ObjectBuilder::new().schema_type(Type::String).max_length(Some(200)).build();
    let header = ParameterBuilder::new()
        .name(name)
        .parameter_in(ParameterIn::Header)
        .required(if required { Required::True } else { Required::False })
        .description(Some(words))
        .schema(Some(text))
        .build();
    parameters.push(RefOr::T(header));
}

/// The document as it is served. The routes do not change while the program runs, so neither does
/// this.
static SERVED: LazyLock<Option<String>> = LazyLock::new(|| openapi_json().ok());

/// The document.
#[utoipa::path(
    operation_id = "openapi",
    tag = "operation",
    responses((status = 200, description = "This document", content_type = "application/json")),
    security(())
)]
#[get("/api/openapi.json")]
pub(crate) async fn serve_document(_none: Query<NoQuery>) -> HttpResponse {
    match SERVED.as_deref() {
        Some(json) => HttpResponse::Ok().content_type("application/json").body(json),
        None => HttpResponse::InternalServerError().finish(),
    }
}

/// The schema of a field that takes one word of a closed list.
pub(crate) fn one_of(words: impl IntoIterator<Item = &'static str>) -> RefOr<Schema> {
    let list: Vec<&str> = words.into_iter().collect();
    ObjectBuilder::new().schema_type(Type::String).enum_values(Some(list)).build().into()
}

#[cfg(test)]
mod tests {
    use serde_json::Value;

    use super::*;

    /// Every example below a value.
    fn examples(value: &Value, found: &mut Vec<String>) {
        match value {
            Value::Object(members) => {
                found.extend(members.get("example").and_then(Value::as_str).map(str::to_owned));
                members.values().for_each(|value| examples(value, found));
            }
            Value::Array(values) => values.iter().for_each(|value| examples(value, found)),
            _ => {}
        }
    }

    #[test]
    fn every_time_in_an_example_is_one_that_the_server_takes_today() {
        let mut found = Vec::new();
        examples(&serde_json::from_str(&openapi_json().unwrap()).unwrap(), &mut found);
        let is_time = |text: &&String| text.starts_with("20") && text.matches('-').count() >= 2;
        let times: Vec<&String> = found.iter().filter(is_time).collect();
        assert!(times.len() > 6, "{times:?}");
        assert!(times.iter().all(|time| time.starts_with("2026-01-")), "{times:?}");
    }

    #[test]
    fn the_document_that_is_served_is_the_one_that_is_printed() {
        assert_eq!(SERVED.as_deref(), Some(openapi_json().unwrap().as_str()));
    }
}
