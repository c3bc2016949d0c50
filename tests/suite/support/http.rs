//! One request and its answer, over a real connection.

use serde_json::Value;
use ureq::{
    Agent,
    http::{HeaderMap, Request},
};

/// A client that takes every status for an answer.
pub(crate) fn client() -> Agent {
    Agent::config_builder()
        .http_status_as_error(false)
        .max_redirects(0)
        .allow_non_standard_methods(true)
        .timeout_global(Some(std::time::Duration::from_secs(30)))
        .build()
        .into()
}

/// A request that is to be sent.
#[derive(Clone, Default)]
pub(crate) struct Asked<'a> {
    pub(crate) method: &'a str,
    pub(crate) path: &'a str,
    pub(crate) headers: Vec<(&'a str, &'a str)>,
    pub(crate) body: Option<&'a [u8]>,
}

/// What came back.
#[derive(Debug)]
pub(crate) struct Answer {
    /// What was asked, for messages.
    asked: String,
    pub(crate) status: u16,
    headers: HeaderMap,
    pub(crate) body: Vec<u8>,
}

/// Sends a request.
#[track_caller]
pub(crate) fn send(client: &Agent, base: &str, asked: &Asked<'_>) -> Answer {
    let name = format!("{} {}", asked.method, asked.path);
    let mut request = Request::builder().method(asked.method).uri(format!("{base}{}", asked.path));
    for (header, value) in &asked.headers {
        request = request.header(*header, *value);
    }
    let sent = match asked.body {
        Some(body) => client.run(request.body(body).unwrap()),
        None => client.run(request.body(()).unwrap()),
    };
    let answer = sent.unwrap_or_else(|error| panic!("{name}: {error}"));
    let (head, mut body) = answer.into_parts();
    let body = body.read_to_vec().unwrap_or_else(|error| panic!("{name}: {error}"));
    Answer { asked: name, status: head.status.as_u16(), headers: head.headers, body }
}

impl Answer {
    /// A header, empty if it is not there.
    pub(crate) fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().unwrap())
    }

    /// Its body.
    #[track_caller]
    pub(crate) fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("{error}: {self}"))
    }

    /// Its body, if it has this status.
    #[track_caller]
    pub(crate) fn expect(&self, status: u16) -> Value {
        assert_eq!(self.status, status, "{self}");
        assert_eq!(self.header("content-type"), "application/json", "{self}");
        self.json()
    }

    /// Its problem document (RFC 9457), if it is one of this status and every member is right.
    #[track_caller]
    pub(crate) fn problem(&self, status: u16) -> Value {
        assert_eq!(self.status, status, "{self}");
        assert_eq!(self.header("content-type"), "application/problem+json", "{self}");
        let problem = self.json();
        let text = |member: &str| problem[member].as_str().unwrap_or_default().to_owned();
        assert!(text("type").starts_with("/problems/"), "{self}");
        assert!(!text("title").is_empty() && !text("detail").is_empty(), "{self}");
        assert_eq!(problem["status"], status, "{self}");
        let path = self.asked.split(' ').nth(1).unwrap().split('?').next().unwrap();
        assert_eq!(text("instance"), path, "{self}");
        assert!(!text("request_id").is_empty(), "{self}");
        assert_eq!(text("request_id"), self.header("x-request-id"), "{self}");
        problem
    }

    /// Checks that it is a problem document whose first error is this one.
    #[track_caller]
    pub(crate) fn refuses(&self, status: u16, pointer: &str, code: &str) {
        let problem = self.problem(status);
        let error = &problem["errors"][0];
        assert_eq!((&error["pointer"], &error["code"]), (&pointer.into(), &code.into()), "{self}");
        assert!(error["detail"].as_str().is_some_and(|detail| !detail.is_empty()), "{self}");
    }
}

impl std::fmt::Display for Answer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let body = String::from_utf8_lossy(&self.body);
        write!(f, "{} was answered {} {body}", self.asked, self.status)
    }
}
