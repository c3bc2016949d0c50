//! A request of a row, and the place of an operation in the API's document. Knows no caller.

use serde_json::Value;

use crate::support::{Answer, Person};

/// A request that is well-formed, whoever sends it.
pub(super) struct Ask {
    pub(super) method: &'static str,
    /// Below `/api/v1`, unless it is one of those that are outside of it.
    path: String,
    body: Option<Value>,
    /// A CSV file in place of that.
    file: Option<String>,
    /// What is shown of it to those alone who may see it.
    pub(super) about: Option<String>,
    /// A page, at an address that may look like one of the API's.
    page: bool,
}

const BELOW: &str = "/api/v1";
const OUTSIDE: [&str; 5] = ["/healthz", "/readyz", "/metrics", "/api/", "/pages/"];
const FORM: &str = "application/x-www-form-urlencoded";

impl Ask {
    pub(super) fn get(path: impl Into<String>) -> Self {
        let path = path.into();
        Self { method: "GET", path, body: None, file: None, about: None, page: false }
    }

    pub(super) fn post(path: impl Into<String>, body: Value) -> Self {
        Self { method: "POST", body: Some(body), ..Self::get(path) }
    }

    pub(super) fn post_file(path: impl Into<String>, file: String) -> Self {
        Self { method: "POST", file: Some(file), ..Self::get(path) }
    }

    pub(super) fn get_page(path: impl Into<String>) -> Self {
        Self { page: true, ..Self::get(path) }
    }

    /// A form without fields, to a page.
    pub(super) fn post_form(path: impl Into<String>) -> Self {
        Self { method: "POST", ..Self::get_page(path) }
    }

    pub(super) fn put(path: impl Into<String>, body: Value) -> Self {
        Self { method: "PUT", ..Self::post(path, body) }
    }

    pub(super) fn patch(path: impl Into<String>, body: Value) -> Self {
        Self { method: "PATCH", ..Self::post(path, body) }
    }

    pub(super) fn delete(path: impl Into<String>) -> Self {
        Self { method: "DELETE", ..Self::get(path) }
    }

    /// The same, with an id that is in the answer for those alone who may see it.
    pub(super) fn about(self, id: &str) -> Self {
        Self { about: Some(id.to_owned()), ..self }
    }

    /// Sends it.
    #[track_caller]
    pub(super) fn send(&self, by: &Person) -> Answer {
        let nothing = Value::Null;
        let body = self.body.as_ref().unwrap_or(&nothing);
        if let Some(file) = &self.file {
            let path = format!("{BELOW}{}", self.path);
            return by.send("POST", &path, Some(("text/csv", file.as_bytes())));
        }
        match self.method {
            "POST" if self.is_outside() => by.send("POST", &self.path, Some((FORM, b""))),
            // Where no version is asked for, the one named does not matter.
            "POST" => by.post_of(&self.path, "*", body),
            "PUT" => by.put(&self.path, "*", body),
            "PATCH" => by.patch(&self.path, "*", body),
            "DELETE" => by.delete(&self.path, "*"),
            _ if self.is_outside() => by.send("GET", &self.path, None),
            _ => by.get(&self.path),
        }
    }

    fn is_outside(&self) -> bool {
        self.page || OUTSIDE.iter().any(|start| self.path.starts_with(start))
    }

    /// All that its sender says: an answer that says it back reveals nothing.
    pub(super) fn said(&self) -> String {
        let body = self.body.as_ref().map(ToString::to_string).unwrap_or_default();
        format!("{} {body}{}", self.path, self.file.as_deref().unwrap_or_default())
    }

    /// Whether it asks for what the document has under a method and a path.
    pub(super) fn is_of(&self, method: &str, template: &str) -> bool {
        let path =
            if self.is_outside() { self.path.clone() } else { format!("{BELOW}{}", self.path) };
        let path = path.split('?').next().unwrap_or_default();
        let (mut asked, mut named) = (path.split('/'), template.split('/'));
        let fits = |(asked, named): (&str, &str)| asked == named || named.starts_with('{');
        let all_fit = asked.by_ref().zip(named.by_ref()).all(fits);
        self.method.eq_ignore_ascii_case(method)
            && all_fit
            && path.split('/').count() == template.split('/').count()
    }
}

/// An operation of the document.
pub(super) struct Operation {
    pub(super) id: String,
    pub(super) method: String,
    pub(super) path: String,
    /// Whether it needs no proof.
    pub(super) public: bool,
}

/// Every operation of the API's document.
pub(super) fn operations() -> Vec<Operation> {
    let document: Value = serde_json::from_str(&api::openapi_json().unwrap()).unwrap();
    let mut found = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let id = operation["operationId"].as_str().unwrap_or_else(|| {
                panic!("{method} {path} has no operationId, so that no row can name it")
            });
            found.push(Operation {
                id: id.to_owned(),
                method: method.clone(),
                path: path.clone(),
                public: operation["security"] == serde_json::json!([{}]),
            });
        }
    }
    found
}
