//! The ledger, and who was reminded.

use serde_json::json;

use super::{ANY, COACHES, Row, THEIR_BOW, logs, reads};
use crate::matrix::{asking::Ask, scene::AT};

pub(super) fn rows() -> Vec<Row> {
    vec![
        logs("log_shots", THEIR_BOW, |scene| {
            Ask::post("/shot-logs", json!({"bow_id": scene.strung().bow, "at": AT, "shots": 30}))
        }),
        logs("log_batch", "+2++2+", |scene| {
            let log = json!({"bow_id": scene.strung().bow, "at": AT, "shots": 30});
            Ask::post("/shot-logs/batch", json!({"mode": "atomic", "entries": [log]}))
        }),
        reads("list_shot_logs", COACHES, |scene| {
            Ask::get(format!("/shot-logs?bow_id={}", scene.standing.bow))
        }),
        reads("list_reminders", ANY, |_| Ask::get("/reminders?limit=200")),
    ]
}
