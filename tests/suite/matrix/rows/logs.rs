//! The ledger, and who was reminded.

use serde_json::json;

use super::{LIST_OF_THEIR_BOWS, Row, THEIR_BOW, WHO_ENTERED, logs, reads, writes};
use crate::matrix::{asking::Ask, scene::AT};

/// The archer whom a reminder is to.
const WHO_IT_IS_TO: &str = "+33333";

pub(super) fn rows() -> Vec<Row> {
    vec![
        logs("log_shots", THEIR_BOW, |scene| {
            Ask::post("/shot-logs", json!({"bow_id": scene.strung().bow, "at": AT, "shots": 30}))
        }),
        logs("log_batch", "+2++2+", |scene| {
            let log = json!({"bow_id": scene.strung().bow, "at": AT, "shots": 30});
            Ask::post("/shot-logs/batch", json!({"mode": "atomic", "entries": [log]}))
        }),
        reads("list_shot_logs", THEIR_BOW, |scene| {
            Ask::get(format!("/shot-logs?bow_id={}", scene.standing.bow))
        }),
        reads("get_shot_log", THEIR_BOW, |scene| Ask::get(format!("/shot-logs/{}", scene.log()))),
        writes("correct_shot_log", WHO_ENTERED, |scene| {
            Ask::patch(format!("/shot-logs/{}", scene.log()), json!({"shots": 29}))
        }),
        writes("void_shot_log", WHO_ENTERED, |scene| {
            Ask::delete(format!("/shot-logs/{}", scene.log()))
        }),
        reads("list_possible_duplicates", THEIR_BOW, |scene| {
            Ask::get(format!("/shot-logs/possible-duplicates?bow_id={}", scene.standing.bow))
        }),
        writes("merge_shot_log", WHO_ENTERED, |scene| {
            let [log, into] = scene.twice();
            Ask::post(format!("/shot-logs/{log}/merge"), json!({"into_id": into}))
        }),
        reads("list_changes", LIST_OF_THEIR_BOWS, |scene| {
            Ask::get(format!("/audit?subject_id={}", scene.standing.bow)).about(&scene.standing.bow)
        }),
        reads("export_table", LIST_OF_THEIR_BOWS, |scene| {
            Ask::get("/export?table=shot_logs").about(&scene.standing.bow)
        }),
        // One row that is out of reach, and nothing is written.
        writes("import_table", "+2++2+", |scene| {
            let file = format!("bow_id,at,shots\r\n{},{AT},30\r\n", scene.strung().bow);
            Ask::post_file("/import?table=shot_logs&dry_run=false", file)
        }),
        reads("list_reminders", LIST_OF_THEIR_BOWS, |scene| {
            Ask::get("/reminders?limit=200").about(&scene.standing.bow)
        }),
        writes("finish_reminder", THEIR_BOW, |scene| {
            Ask::post(format!("/reminders/{}/done", scene.reminder()), json!({}))
        }),
        writes("snooze_reminder", WHO_IT_IS_TO, |scene| {
            Ask::post(format!("/reminders/{}/snooze", scene.reminder()), json!({"days": 2}))
        }),
        writes("disown_bow", WHO_IT_IS_TO, |scene| {
            Ask::post(format!("/reminders/{}/not-my-bow", scene.reminder()), json!({}))
        }),
        reads("list_mails", "333+-+", |scene| {
            Ask::get("/mails?limit=200").about(&scene.people.archer.id().to_string())
        }),
    ]
}
