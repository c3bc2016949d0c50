//! What needs no proof: nobody is answered otherwise for one that holds, or does not.

use serde_json::json;

use super::{Row, open};
use crate::{matrix::asking::Ask, support::SETUP_CODE};

const DONE: [&str; 3] = ["++++", "++", "++++++"];
const NOT_SIGNED_IN: [&str; 3] = ["1111", "11", "111111"];
const FORBIDDEN: [&str; 3] = ["3333", "33", "333333"];

pub(super) fn rows() -> Vec<Row> {
    vec![
        open("healthz", DONE, 200, |_| Ask::get("/healthz")),
        open("readyz", DONE, 200, |_| Ask::get("/readyz")),
        open("openapi", DONE, 200, |_| Ask::get("/api/openapi.json")),
        open("set_up", FORBIDDEN, 403, |_| {
            let body = json!({"setup_code": SETUP_CODE,
                "club": {"name": "Another club", "time_zone": "Europe/Lisbon"},
                "owner": {"name": "Odo Fenwright", "email": "odo@club.example",
                    "password": "long enough"}});
            Ask::post("/setup", body)
        }),
        open("sign_in", NOT_SIGNED_IN, 401, |_| {
            let body = json!({"email": "maren@club.example", "password": "not the one"});
            Ask::post("/auth/sign-in", body)
        }),
    ]
}
