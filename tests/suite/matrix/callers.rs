//! Who asks: somebody without a proof that holds, scripts, and the people of two clubs.

use jiff::SignedDuration;
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation, decode, encode};
use serde_json::{Value, json};

use super::asking::Operation;
use crate::support::{Club, PASSWORD, Person, key};

/// In all names of ours, and in none of anybody else's.
pub(super) const MARK: &str = "Quarrelmark";

/// Those of our club, in the order of a row's answers.
pub(super) const OURS: [&str; 12] = [
    "anonymous",
    "an expired access token",
    "the token of a sign-in that was ended",
    "a token for another purpose",
    "a script that logs",
    "a script that reads",
    "the bow's archer",
    "another archer",
    "the bow's keeper",
    "the squad's coach",
    "another squad's coach",
    "an owner",
];

/// The people of one club; its owner is somebody apart.
pub(super) struct People {
    pub(super) archer: Person,
    pub(super) other_archer: Person,
    pub(super) keeper: Person,
    pub(super) coach: Person,
    pub(super) other_coach: Person,
    /// The squad that the archer shoots in and the coach looks after.
    pub(super) squad: String,
}

impl People {
    /// Five people, two squads. `surname` tells the clubs apart.
    pub(super) fn of(club: &Club, owner: &Person, surname: &str) -> Self {
        let join = |first: &str, role| club.joins(owner, &format!("{first} {surname}"), role);
        let (archer, other_archer) = (join("Tobin", "archer"), join("Ilse", "archer"));
        let (coach, other_coach) = (join("Ferin", "coach"), join("Brannoc", "coach"));
        let keeper = join("Odo", "archer");
        let squad = |coach: &Person, archer: &Person| {
            let body = json!({"name": format!("Squad {surname}"),
                "coach_member_ids": [coach.id().0], "archer_member_ids": [archer.id().0]});
            owner.post("/squads", &body).expect(201)["id"].as_str().unwrap().to_owned()
        };
        squad(&other_coach, &other_archer);
        let squad = squad(&coach, &archer);
        Self { archer, other_archer, keeper, coach, other_coach, squad }
    }

    /// The last six of a row's answers.
    pub(super) const fn six<'a>(&'a self, owner: &'a Person) -> [&'a Person; 6] {
        [&self.archer, &self.other_archer, &self.keeper, &self.coach, &self.other_coach, owner]
    }
}

/// Proofs that do not hold, and those of scripts. All are of an owner, who could do everything.
pub(super) struct Proofs {
    refused: [Person; 4],
    scripts: Option<[Person; 2]>,
}

impl Proofs {
    pub(super) fn of(club: &Club, operations: &[Operation]) -> Self {
        let owner = club.owner();
        let expired = club.bearing(&owner.token().unwrap());
        club.clock.advance(SignedDuration::from_mins(16));
        let ended = club.bearing(&signed_in(club));
        ended.get("/me").expect(200);
        let same = json!({"current_password": PASSWORD, "new_password": PASSWORD});
        // Every other device is signed out by that.
        assert_eq!(owner.post("/me/password", &same).status, 204);
        let wrong = club.bearing(&signed_again(&owner.token().unwrap(), "reset+jwt"));
        // The same by the same hand, but for the right purpose, holds.
        let right = signed_again(&owner.token().unwrap(), "at+jwt");
        club.bearing(&right).get("/me").expect(200);
        let refused = [club.anonymous(), expired, ended, wrong];
        let scripts = operations
            .iter()
            .any(|one| one.method == "post" && one.path == "/api/v1/tokens")
            .then(|| ["log", "read"].map(|scope| script(club, scope)));
        Self { refused, scripts }
    }

    /// The first six of a row's answers; no scripts where the API knows none.
    pub(super) fn six(&self) -> [Option<&Person>; 6] {
        let [a, b, c, d] = self.refused.each_ref().map(Some);
        let [log, read] = match &self.scripts {
            Some([log, read]) => [Some(log), Some(read)],
            None => [None, None],
        };
        [a, b, c, d, log, read]
    }
}

fn signed_in(club: &Club) -> String {
    let body = json!({"email": "maren@club.example", "password": PASSWORD});
    let answer = club.anonymous().post("/auth/sign-in", &body).expect(200);
    answer["access_token"].as_str().unwrap().to_owned()
}

/// The token of a script that acts for the owner.
fn script(club: &Club, scope: &str) -> Person {
    let body = json!({"name": format!("Script {MARK}"), "scope": scope});
    let made = club.owner().post("/tokens", &body).expect(201);
    club.bearing(made["token"].as_str().unwrap())
}

/// A token of ours with all that it says, signed again by the server's own key as one of that kind.
fn signed_again(token: &str, kind: &str) -> String {
    let mut validation = Validation::new(Algorithm::HS256);
    (validation.validate_exp, validation.validate_aud) = (false, false);
    let secret = key().secret;
    let said = decode::<Value>(token, &DecodingKey::from_secret(&secret), &validation).unwrap();
    let header = Header { typ: Some(kind.to_owned()), ..said.header };
    encode(&header, &said.claims, &EncodingKey::from_secret(&secret)).unwrap()
}
