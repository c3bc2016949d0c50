//! An example for every body in the document of the API, put together from the examples and rules of
//! its fields, so that none of them is forgotten and none goes stale.

use serde_json::{Map, Value, json};
use utoipa::openapi::{Components, Content, OpenApi, RefOr, Schema};

/// How deep schemas may refer to each other before an example stops.
const DEEPEST: usize = 12;

/// Gives every body of every operation an example.
pub(crate) fn add(openapi: &mut OpenApi) {
    let schemas = Schemas::of(openapi.components.as_ref());
    for item in openapi.paths.paths.values_mut() {
        let operations =
            [&mut item.get, &mut item.post, &mut item.put, &mut item.patch, &mut item.delete];
        for operation in operations.into_iter().flatten() {
            if let Some(RefOr::T(body)) = operation.request_body.as_mut() {
                body.content.values_mut().for_each(|content| schemas.illustrate(content));
            }
            for response in operation.responses.responses.values_mut() {
                if let RefOr::T(response) = response {
                    response.content.values_mut().for_each(|content| schemas.illustrate(content));
                }
            }
        }
    }
}

/// The named schemas of a document, as JSON.
struct Schemas(Map<String, Value>);

impl Schemas {
    fn of(components: Option<&Components>) -> Self {
        let named = components.map(|components| {
            let schema = |(name, schema): (&String, &RefOr<Schema>)| {
                Some((name.clone(), serde_json::to_value(schema).ok()?))
            };
            components.schemas.iter().filter_map(schema).collect()
        });
        Self(named.unwrap_or_default())
    }

    fn illustrate(&self, content: &mut RefOr<Content>) {
        let RefOr::T(content) = content else { return };
        if content.example.is_none() {
            let schema = content.schema.as_ref().and_then(|one| serde_json::to_value(one).ok());
            content.example = schema.map(|schema| self.example(&schema, "", 0));
        }
    }

    /// An example of a schema; `name` is that of the field, if it is one.
    fn example(&self, schema: &Value, name: &str, depth: usize) -> Value {
        let given = schema.get("example").or_else(|| schema.pointer("/examples/0"));
        if let Some(example) = given {
            return example.clone();
        }
        if depth > DEEPEST {
            return Value::Null;
        }
        if let Some(target) = schema.get("$ref").and_then(Value::as_str) {
            let target = target.rsplit('/').next().unwrap_or_default();
            return self.0.get(target).map_or(Value::Null, |at| self.example(at, name, depth + 1));
        }
        if let Some(all) = schema.get("allOf").and_then(Value::as_array) {
            return self.merged(all, depth);
        }
        for of in ["oneOf", "anyOf"] {
            let choices = schema.get(of).and_then(Value::as_array).into_iter().flatten();
            let is_null = |choice: &&Value| choice.get("type").is_some_and(|kind| kind == "null");
            if let Some(choice) = choices.into_iter().find(|choice| !is_null(choice)) {
                return self.example(choice, name, depth + 1);
            }
        }
        if let Some(word) = schema.pointer("/enum/0") {
            return word.clone();
        }
        self.of_type(schema, name, depth)
    }

    fn merged(&self, all: &[Value], depth: usize) -> Value {
        let parts = all.iter().map(|part| self.example(part, "", depth + 1));
        let members = parts.filter_map(|part| part.as_object().cloned());
        Value::Object(members.flatten().collect())
    }

    fn of_type(&self, schema: &Value, name: &str, depth: usize) -> Value {
        match kind(schema) {
            "object" => {
                let properties = schema.get("properties").and_then(Value::as_object);
                let members = properties.into_iter().flatten().map(|(name, property)| {
                    (name.clone(), self.example(property, name, depth + 1))
                });
                Value::Object(members.collect())
            }
            "array" => {
                let one = schema.get("items").map(|items| self.example(items, name, depth + 1));
                Value::Array(one.into_iter().collect())
            }
            "integer" => schema.get("minimum").cloned().unwrap_or(json!(1)),
            "number" => schema.get("minimum").cloned().unwrap_or(json!(1.0)),
            "boolean" => json!(false),
            "string" => text(schema, name),
            _ => Value::Null,
        }
    }
}

/// The type of a schema; of one that may be null, the other.
fn kind(schema: &Value) -> &str {
    match schema.get("type") {
        Some(Value::String(kind)) => kind,
        Some(Value::Array(kinds)) => {
            kinds.iter().filter_map(Value::as_str).find(|kind| *kind != "null").unwrap_or("")
        }
        _ if schema.get("properties").is_some() => "object",
        _ => "",
    }
}

fn text(schema: &Value, name: &str) -> Value {
    match schema.get("format").and_then(Value::as_str) {
        Some("uuid") => json!("01890000-0000-7000-8000-000000000001"),
        Some("date-time") => json!("2026-01-24T18:30:00Z"),
        Some("date") => json!("2026-01-24"),
        _ if name.ends_with("note") || name.ends_with("reason") => {
            json!("as agreed with the coach")
        }
        _ if name.ends_with("cursor") => Value::Null,
        _ => json!(name.replace('_', " ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every body of every operation, by where it stands.
    fn bodies(document: &Value) -> Vec<(String, &Value)> {
        let mut found = Vec::new();
        for (path, item) in document["paths"].as_object().unwrap() {
            for (method, operation) in item.as_object().unwrap() {
                let at = format!("{method} {path}");
                let request = operation.pointer("/requestBody/content").into_iter();
                let responses = operation["responses"].as_object().into_iter().flatten();
                let answers = responses.filter_map(|(_, response)| response.get("content"));
                for content in request.chain(answers) {
                    let kinds = content.as_object().unwrap();
                    found.extend(kinds.iter().map(|(kind, body)| (format!("{at}: {kind}"), body)));
                }
            }
        }
        found
    }

    #[test]
    fn every_body_has_an_example_with_every_field_in_it() {
        let document: Value =
            serde_json::from_str(&crate::openapi::openapi_json().unwrap()).unwrap();
        let bodies = bodies(&document);
        assert!(bodies.len() > 40, "{} bodies", bodies.len());
        for (at, body) in bodies {
            if body.get("schema").is_none() {
                continue;
            }
            let example = body.get("example").unwrap_or_else(|| panic!("{at} has no example"));
            let nothing_to_say = at.contains("/invitation:") || at.contains("/not-my-bow:");
            // A file is text.
            let full = example.as_object().is_some_and(|members| !members.is_empty())
                || example.as_str().is_some_and(|file| !file.is_empty());
            assert!(full || nothing_to_say, "{at}: {example}");
        }
    }
}
