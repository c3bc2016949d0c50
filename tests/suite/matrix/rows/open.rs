//! What needs no proof: nobody is answered otherwise for one that holds, or does not.

use serde_json::json;

use super::{Row, open};
use crate::{matrix::asking::Ask, support::SETUP_CODE};

const DONE: [&str; 3] = ["++++", "++", "++++++"];
const NOT_SIGNED_IN: [&str; 3] = ["1111", "11", "111111"];
const FORBIDDEN: [&str; 3] = ["3333", "33", "333333"];

const NOT_FOUND: [&str; 3] = ["4444", "44", "444444"];

pub(super) fn rows() -> Vec<Row> {
    vec![
        open("healthz", DONE, 200, |_| Ask::get("/healthz")),
        open("readyz", DONE, 200, |_| Ask::get("/readyz")),
        // Everybody in these tests asks from this machine.
        open("metrics", DONE, 200, |_| Ask::get("/metrics")),
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
        open("refresh_access", NOT_SIGNED_IN, 401, |_| {
            Ask::post("/auth/refresh", json!({"refresh_token": "no seal"}))
        }),
        open("sign_out", NOT_SIGNED_IN, 401, |_| {
            Ask::post("/auth/sign-out", json!({"refresh_token": "no seal"}))
        }),
        open("ask_reset", DONE, 202, |scene| {
            Ask::post("/auth/reset", json!({"email": scene.free_address()}))
        }),
        // A link is a proof of its own; nobody has one here.
        open("reset_password", NOT_FOUND, 404, |_| {
            Ask::post("/auth/reset/nothing", json!({"password": "long enough"}))
        }),
        open("read_feed", NOT_FOUND, 404, |_| Ask::get("/feeds/tlf_nothing.ics")),
        open("page_style", DONE, 200, |_| Ask::get("/pages/style.css")),
        open("show_answer", NOT_FOUND, 404, |_| Ask::get_page("/act/nothing")),
        open("answer_by_link", NOT_FOUND, 404, |_| Ask::post_form("/act/nothing")),
        open("show_quiet", NOT_FOUND, 404, |_| Ask::get_page("/quiet/nothing")),
        open("stop_mail", NOT_FOUND, 404, |_| Ask::post_form("/quiet/nothing")),
        open("show_invitation", NOT_FOUND, 404, |_| Ask::get_page("/invitations/nothing")),
        open("join_by_page", NOT_FOUND, 404, |_| Ask::post_form("/invitations/nothing")),
        open("show_reset", NOT_FOUND, 404, |_| Ask::get_page("/reset/nothing")),
        open("reset_by_page", NOT_FOUND, 404, |_| Ask::post_form("/reset/nothing")),
        open("get_invitation", NOT_FOUND, 404, |_| Ask::get("/invitations/nothing")),
        open("accept_invitation", NOT_FOUND, 404, |_| {
            Ask::post("/invitations/nothing", json!({"password": "long enough"}))
        }),
    ]
}
