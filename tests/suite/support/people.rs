//! Who asks: somebody with an account, the bearer of a token, or nobody in particular.

use std::{
    io::{Read, Write},
    net::TcpStream,
    sync::{Arc, Mutex},
};

use domain::{ids::MemberId, time::Clock};
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};
use ureq::Agent;

use super::{
    http::{Answer, Asked, client, send},
    set_clock::SetClock,
};

/// What everybody signs in with.
pub(crate) const PASSWORD: &str = "nine invented feathers";

/// A person at the other end of the line.
pub(crate) struct Person {
    client: Agent,
    base: String,
    proof: Proof,
}

enum Proof {
    None,
    Token(String),
    Account(Account),
}

/// An account: its owner signs in, and again when the token runs out.
struct Account {
    member: MemberId,
    email: String,
    clock: Arc<SetClock>,
    token: Mutex<Option<(Timestamp, String)>>,
}

impl Person {
    pub(crate) fn nobody(base: &str) -> Self {
        Self { client: client(), base: base.to_owned(), proof: Proof::None }
    }

    pub(crate) fn bearing(base: &str, token: &str) -> Self {
        Self { proof: Proof::Token(token.to_owned()), ..Self::nobody(base) }
    }

    pub(crate) fn with_account(
        base: &str,
        member: MemberId,
        email: &str,
        clock: Arc<SetClock>,
    ) -> Self {
        let account = Account { member, email: email.to_owned(), clock, token: Mutex::default() };
        Self { proof: Proof::Account(account), ..Self::nobody(base) }
    }

    /// Which member this is.
    pub(crate) fn id(&self) -> MemberId {
        match &self.proof {
            Proof::Account(account) => account.member,
            _ => panic!("only somebody with an account is a member"),
        }
    }

    /// A token that is in force now.
    pub(crate) fn token(&self) -> Option<String> {
        match &self.proof {
            Proof::None => None,
            Proof::Token(token) => Some(token.clone()),
            Proof::Account(account) => Some(self.signed_in(account)),
        }
    }

    fn signed_in(&self, account: &Account) -> String {
        let now = account.clock.now();
        let mut token = account.token.lock().unwrap();
        // Tokens hold for fifteen minutes; a client signs in a little before that is over.
        let fresh = |since: &Timestamp| {
            (SignedDuration::ZERO..SignedDuration::from_mins(14))
                .contains(&now.duration_since(*since))
        };
        match &*token {
            Some((since, token)) if fresh(since) => token.clone(),
            _ => {
                let body = json!({"email": account.email, "password": PASSWORD});
                let body = Self::nobody(&self.base).post("/auth/sign-in", &body).expect(200);
                let new = body["access_token"].as_str().unwrap().to_owned();
                *token = Some((now, new.clone()));
                new
            }
        }
    }

    /// Asks for an address below `/api/v1`.
    #[track_caller]
    pub(crate) fn get(&self, path: &str) -> Answer {
        self.send("GET", &format!("/api/v1{path}"), None)
    }

    /// The same with other headers.
    #[track_caller]
    pub(crate) fn get_with(&self, path: &str, headers: &[(&str, &str)]) -> Answer {
        let path = format!("/api/v1{path}");
        let asked = Asked { method: "GET", path: &path, headers: headers.to_vec(), body: None };
        send(&self.client, &self.base, &asked)
    }

    /// Sends a request line as it is, and returns the bytes of the answer as text.
    pub(crate) fn raw(&self, request_line: &str) -> String {
        let host = self.base.trim_start_matches("http://");
        let mut connection = TcpStream::connect(host).unwrap();
        let head = format!("{request_line}\r\nHost: {host}\r\nConnection: close\r\n\r\n");
        connection.write_all(head.as_bytes()).unwrap();
        let mut answer = Vec::new();
        connection.read_to_end(&mut answer).unwrap();
        String::from_utf8(answer).unwrap()
    }

    /// Posts JSON to an address below `/api/v1`.
    #[track_caller]
    pub(crate) fn post(&self, path: &str, body: &Value) -> Answer {
        self.post_text(path, body.to_string())
    }

    /// Posts a text that claims to be JSON.
    #[track_caller]
    pub(crate) fn post_text(&self, path: &str, body: impl AsRef<[u8]>) -> Answer {
        let body = Some(("application/json", body.as_ref()));
        self.send("POST", &format!("/api/v1{path}"), body)
    }

    /// Posts JSON under a key, so that it may be sent again.
    #[track_caller]
    pub(crate) fn post_once(&self, path: &str, key: &str, body: &Value) -> Answer {
        self.with_header("POST", path, ("idempotency-key", key), Some(body))
    }

    /// Posts JSON about what was read in that version; an empty one is not named.
    #[track_caller]
    pub(crate) fn post_of(&self, path: &str, version: &str, body: &Value) -> Answer {
        self.with_header("POST", path, ("if-match", version), Some(body))
    }

    /// Changes what is at an address below `/api/v1` and was read in that version; an empty one is not
    /// named.
    #[track_caller]
    pub(crate) fn patch(&self, path: &str, version: &str, body: &Value) -> Answer {
        self.with_header("PATCH", path, ("if-match", version), Some(body))
    }

    /// The same for putting something in its place.
    #[track_caller]
    pub(crate) fn put(&self, path: &str, version: &str, body: &Value) -> Answer {
        self.with_header("PUT", path, ("if-match", version), Some(body))
    }

    /// The same for removing it.
    #[track_caller]
    pub(crate) fn delete(&self, path: &str, version: &str) -> Answer {
        self.with_header("DELETE", path, ("if-match", version), None)
    }

    #[track_caller]
    fn with_header(
        &self,
        method: &str,
        path: &str,
        header: (&str, &str),
        body: Option<&Value>,
    ) -> Answer {
        let (path, body) = (format!("/api/v1{path}"), body.map(ToString::to_string));
        let bearer = self.token().map(|token| format!("Bearer {token}"));
        let mut asked = Asked { method, path: &path, ..Asked::default() };
        asked.headers.extend(bearer.as_deref().map(|bearer| ("authorization", bearer)));
        asked.headers.extend((!header.1.is_empty()).then_some(header));
        if let Some(body) = &body {
            asked.headers.push(("content-type", "application/json"));
            asked.body = Some(body.as_bytes());
        }
        send(&self.client, &self.base, &asked)
    }

    /// Sends any method to any address, with a body and its type if there is to be one.
    #[track_caller]
    pub(crate) fn send(&self, method: &str, path: &str, body: Option<(&str, &[u8])>) -> Answer {
        let bearer = self.token().map(|token| format!("Bearer {token}"));
        let mut asked = Asked { method, path, ..Asked::default() };
        asked.headers.extend(bearer.as_deref().map(|bearer| ("authorization", bearer)));
        if let Some((kind, body)) = body {
            asked.headers.extend((!kind.is_empty()).then_some(("content-type", kind)));
            asked.body = Some(body);
        }
        send(&self.client, &self.base, &asked)
    }
}
