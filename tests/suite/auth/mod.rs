//! Who gets in, for how long, and how that ends.

mod invitations;
mod limits;
mod refresh;
mod resets;
mod script_tokens;

use serde_json::{Value, json};

use crate::support::{Club, Person};

/// A device as its owner's client knows it.
struct Device {
    access: String,
    refresh: String,
}

impl Device {
    fn of(answer: &Value) -> Self {
        assert_eq!(
            (&answer["token_type"], &answer["expires_in_s"]),
            (&json!("Bearer"), &json!(900))
        );
        let text = |name: &str| answer[name].as_str().unwrap().to_owned();
        Self { access: text("access_token"), refresh: text("refresh_token") }
    }

    /// Signs in anew.
    #[track_caller]
    fn signs_in(club: &Club, email: &str, password: &str) -> Self {
        let answer = sign_in(club, email, password);
        assert_eq!(answer.header("cache-control"), "no-store");
        Self::of(&answer.expect(200))
    }

    /// Whoever bears its access token.
    fn bearer(&self, club: &Club) -> Person {
        club.bearing(&self.access)
    }
}

fn sign_in(club: &Club, email: &str, password: &str) -> crate::support::Answer {
    club.anonymous().post("/auth/sign-in", &json!({"email": email, "password": password}))
}

/// What the link of that kind in a mail ends with.
#[track_caller]
fn link_in(mail: &Value, kind: &str) -> String {
    let text = mail["text"].as_str().unwrap();
    let (_, rest) = text.split_once(&format!("https://tautline.example/{kind}/")).unwrap();
    rest.split_whitespace().next().unwrap().to_owned()
}

/// Every kind of link that does not work is answered in these words.
#[track_caller]
fn check_dead(answer: &crate::support::Answer) {
    let problem = answer.problem(404);
    let detail = "this link does not work: it was used before, has run out, or is not whole; ask for \
                  another one";
    assert_eq!(problem["detail"], detail);
}
