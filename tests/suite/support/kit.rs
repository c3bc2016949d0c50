//! A bow with a string and a serving on it, put together through the API.

use domain::ids::MemberId;
use jiff::SignedDuration;
use serde_json::{Value, json};

use super::{Club, Person};
use domain::time::Clock;

/// The ids of a bow and what hangs under it.
pub(crate) struct Kit {
    pub(crate) bow: String,
    pub(crate) string: String,
    pub(crate) string_fitting: String,
    pub(crate) serving: String,
}

/// The id that an answer gives under a name.
fn id(body: &Value, name: &str) -> String {
    body[name].as_str().unwrap().to_owned()
}

impl Kit {
    /// A bow of the club, or of an archer, strung and served a day ago.
    pub(crate) fn of(club: &Club, by: &Person, archer: Option<MemberId>) -> Self {
        let at = (club.clock.now() - SignedDuration::from_hours(24)).to_string();
        let bow = Self::bow(by, archer);
        let string = Self::part(by, "string");
        let serving = Self::part(by, "center_serving");
        let body = json!({"part_id": string, "bow_id": bow, "at": at});
        let string_fitting = id(&by.post("/fittings", &body).expect(201), "id");
        let body = json!({"part_id": serving, "host_part_id": string, "at": at});
        by.post("/fittings", &body).expect(201);
        Self { bow, string, string_fitting, serving }
    }

    /// A bow without anything on it.
    pub(crate) fn bow(by: &Person, archer: Option<MemberId>) -> String {
        let body = json!({"name": "Grey recurve", "division": "recurve", "bow_length_in": 68,
            "draw_weight_lbf": 36.5, "archer_member_id": archer.map(|member| member.0)});
        id(&by.post("/bows", &body).expect(201), "id")
    }

    /// A string whose brace height and nocking point were set, as after any change.
    pub(crate) fn measured(by: &Person, string: &str, at: &str) {
        for task in ["brace_height_set", "nocking_point_set"] {
            let work = json!({"part_id": string, "task": task, "at": at});
            by.post("/upkeep", &work).expect(201);
        }
    }

    /// A part in the case.
    pub(crate) fn part(by: &Person, kind: &str) -> String {
        let body = json!({"kind": kind, "name": format!("A new {}", kind.replace('_', " "))});
        id(&by.post("/parts", &body).expect(201), "id")
    }

    /// How many shots a part has.
    #[track_caller]
    pub(crate) fn shots(by: &Person, part: &str) -> Value {
        by.get(&format!("/parts/{part}")).expect(200)["wear"]["shots"].clone()
    }
}
