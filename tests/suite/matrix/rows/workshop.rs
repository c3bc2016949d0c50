//! Bows, parts, what is done on them, what they need, and by which rules.

use serde_json::json;

use super::{
    ANY, COACH_OF_BOW, COACHES, LIST_OF_THEIR_BOWS, OWNERS, Row, THEIR_BOW, WHO_ENTERED, reads,
    writes,
};
use crate::matrix::{asking::Ask, scene::AT};

pub(super) fn rows() -> Vec<Row> {
    [bows(), parts(), fittings(), upkeep(), rules()].into_iter().flatten().collect()
}

fn bows() -> Vec<Row> {
    vec![
        writes("add_bow", COACH_OF_BOW, |scene| {
            let body = json!({"name": "Sent in", "division": "recurve", "bow_length_in": 66,
                "draw_weight_lbf": 30, "archer_member_id": scene.people.archer.id().0});
            Ask::post("/bows", body)
        }),
        reads("list_bows", LIST_OF_THEIR_BOWS, |scene| {
            Ask::get("/bows?limit=200").about(&scene.standing.bow)
        }),
        reads("get_bow", THEIR_BOW, |scene| Ask::get(format!("/bows/{}", scene.standing.bow))),
        writes("change_bow", COACH_OF_BOW, |scene| {
            Ask::patch(format!("/bows/{}", scene.bow()), json!({"draw_weight_lbf": 40}))
        }),
        writes("change_string", THEIR_BOW, |scene| {
            let body = json!({"at": AT, "new_part_id": scene.string()});
            Ask::post(format!("/bows/{}/string-change", scene.strung().bow), body)
        }),
        writes("clear_bow", COACH_OF_BOW, |scene| {
            let on = scene.strung();
            let body = json!({"at": AT, "reason": "sent in", "part_ids": [on.string]});
            Ask::post(format!("/bows/{}/clearance", on.bow), body)
        }),
        reads("get_bow_timeline", THEIR_BOW, |scene| {
            Ask::get(format!("/bows/{}/timeline", scene.standing.bow))
        }),
    ]
}

fn parts() -> Vec<Row> {
    vec![
        writes("add_part", COACHES, |_| {
            Ask::post("/parts", json!({"kind": "string", "name": "Sent in"}))
        }),
        reads("list_parts", LIST_OF_THEIR_BOWS, |scene| {
            Ask::get("/parts?limit=200").about(&scene.standing.string)
        }),
        reads("get_part", THEIR_BOW, |scene| Ask::get(format!("/parts/{}", scene.standing.string))),
        reads("explain_part", THEIR_BOW, |scene| {
            Ask::get(format!("/parts/{}/explain", scene.standing.string))
        }),
        reads("get_part_timeline", THEIR_BOW, |scene| {
            Ask::get(format!("/parts/{}/timeline", scene.standing.string))
        }),
        writes("retire_part", THEIR_BOW, |scene| {
            let body = json!({"at": AT, "end": "worn", "reason": "sent in"});
            Ask::post(format!("/parts/{}/retirement", scene.strung().string), body)
        }),
    ]
}

fn fittings() -> Vec<Row> {
    vec![
        writes("fit_part", THEIR_BOW, |scene| {
            let body = json!({"part_id": scene.string(), "bow_id": scene.bow(), "at": AT});
            Ask::post("/fittings", body)
        }),
        reads("list_fittings", THEIR_BOW, |scene| {
            Ask::get(format!("/fittings?bow_id={}", scene.standing.bow))
        }),
        reads("get_fitting", THEIR_BOW, |scene| {
            Ask::get(format!("/fittings/{}", scene.standing.string_fitting))
        }),
        writes("change_fitting", THEIR_BOW, |scene| {
            let body = json!({"from": "2027-02-28T07:00:00Z"});
            Ask::patch(format!("/fittings/{}", scene.strung().string_fitting), body)
        }),
        writes("remove_fitting", THEIR_BOW, |scene| {
            Ask::delete(format!("/fittings/{}", scene.strung().string_fitting))
        }),
        writes("take_off_part", THEIR_BOW, |scene| {
            let body = json!({"at": AT});
            Ask::post(format!("/fittings/{}/removal", scene.strung().string_fitting), body)
        }),
    ]
}

fn upkeep() -> Vec<Row> {
    vec![
        writes("record_upkeep", THEIR_BOW, |scene| {
            let body = json!({"part_id": scene.strung().string, "task": "waxed", "at": AT});
            Ask::post("/upkeep", body)
        }),
        reads("list_upkeep", THEIR_BOW, |scene| {
            Ask::get(format!("/upkeep?part_id={}", scene.standing.string))
        }),
        reads("get_upkeep", THEIR_BOW, |scene| Ask::get(format!("/upkeep/{}", scene.work()))),
        writes("remove_upkeep", WHO_ENTERED, |scene| {
            Ask::delete(format!("/upkeep/{}", scene.work()))
        }),
        reads("list_checklists", ANY, |_| Ask::get("/checklists?kind=limbs")),
        writes("record_incident", THEIR_BOW, |scene| {
            let body = json!({"bow_id": scene.strung().bow, "kind": "dry_fire", "at": AT});
            Ask::post("/incidents", body)
        }),
        reads("list_incidents", THEIR_BOW, |scene| {
            Ask::get(format!("/incidents?bow_id={}", scene.standing.bow))
        }),
        reads("list_due", LIST_OF_THEIR_BOWS, |scene| {
            Ask::get("/due").about(&scene.standing.string)
        }),
        reads("get_board", LIST_OF_THEIR_BOWS, |scene| {
            Ask::get("/board").about(&scene.standing.bow)
        }),
    ]
}

fn rules() -> Vec<Row> {
    vec![
        reads("list_rules", ANY, |_| Ask::get("/rules")),
        reads("get_rule", ANY, |scene| Ask::get(format!("/rules/{}", scene.rule()))),
        reads("list_settings", ANY, |scene| Ask::get(format!("/rules/{}/settings", scene.rule()))),
        writes("preview_rule", OWNERS, |scene| {
            Ask::post("/rules/preview", json!({"rule_id": scene.rule()}))
        }),
        writes("add_rule", OWNERS, |_| {
            let body = json!({"part_kind": "cable", "task": "wax", "shots": {"plan": 800}});
            Ask::post("/rules", body)
        }),
        writes("change_rule", OWNERS, |scene| {
            Ask::patch(format!("/rules/{}", scene.rule()), json!({"source": "sent in"}))
        }),
        writes("remove_rule", OWNERS, |scene| Ask::delete(format!("/rules/{}", scene.rule()))),
    ]
}
