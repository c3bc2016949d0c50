//! The club, its people, its squads and its events.

use serde_json::json;

use super::{ANY, COACH_OF_BOW, COACHES, OWNERS, Row, THEIR_SQUAD, reads, writes};
use crate::{matrix::asking::Ask, support::PASSWORD};

/// A list of those whom somebody may look after.
const LIST_OF_PEOPLE: &str = "+--+-+";

pub(super) fn rows() -> Vec<Row> {
    [own(), people(), squads(), events()].into_iter().flatten().collect()
}

fn own() -> Vec<Row> {
    vec![
        reads("get_me", ANY, |_| Ask::get("/me")),
        writes("change_me", ANY, |_| Ask::patch("/me", json!({"time_zone": "Europe/Lisbon"}))),
        writes("change_password", ANY, |_| {
            let body = json!({"current_password": PASSWORD, "new_password": PASSWORD});
            Ask::post("/me/password", body)
        }),
        writes("make_token", ANY, |_| {
            Ask::post("/tokens", json!({"name": "Sent in", "scope": "read"}))
        }),
        reads("list_tokens", ANY, |_| Ask::get("/tokens")),
        writes("revoke_token", "+3333+", |scene| Ask::delete(format!("/tokens/{}", scene.token()))),
        writes("make_feed", COACHES, |_| {
            Ask::post("/feeds", json!({"name": "Sent in", "scope": "squad"}))
        }),
        reads("list_feeds", ANY, |_| Ask::get("/feeds")),
        writes("revoke_feed", "+3333+", |scene| Ask::delete(format!("/feeds/{}", scene.feed()))),
        reads("get_club", ANY, |_| Ask::get("/club")),
        writes("change_club", OWNERS, |_| Ask::patch("/club", json!({"bench_jobs_per_week": 5}))),
    ]
}

fn people() -> Vec<Row> {
    vec![
        writes("invite_member", COACH_OF_BOW, |scene| {
            let body = json!({"name": "Sent in", "email": scene.free_address(), "role": "archer",
                "squad_ids": [scene.people.squad]});
            Ask::post("/members", body)
        }),
        reads("list_members", LIST_OF_PEOPLE, |scene| {
            Ask::get("/members?limit=200").about(&scene.people.archer.id().to_string())
        }),
        reads("get_member", THEIR_SQUAD, |scene| {
            Ask::get(format!("/members/{}", scene.people.archer.id()))
        }),
        writes("change_member", COACH_OF_BOW, |scene| {
            let body = json!({"quiet_hours": {"from": "20:00", "until": "07:00"}});
            Ask::patch(format!("/members/{}", scene.invited()), body)
        }),
        writes("remove_member", OWNERS, |scene| {
            Ask::delete(format!("/members/{}", scene.invited()))
        }),
        writes("send_invitation", COACH_OF_BOW, |scene| {
            Ask::post(format!("/members/{}/invitation", scene.invited()), json!({}))
        }),
    ]
}

fn squads() -> Vec<Row> {
    vec![
        writes("add_squad", OWNERS, |scene| {
            let body = json!({"name": "Sent in", "coach_member_ids": [scene.people.coach.id().0],
                "archer_member_ids": [scene.people.archer.id().0]});
            Ask::post("/squads", body)
        }),
        reads("list_squads", LIST_OF_PEOPLE, |scene| {
            Ask::get("/squads?limit=200").about(&scene.people.squad)
        }),
        reads("get_squad", THEIR_SQUAD, |scene| {
            Ask::get(format!("/squads/{}", scene.people.squad))
        }),
        writes("change_squad", COACH_OF_BOW, |scene| {
            let archers = json!({"archer_member_ids": [scene.people.archer.id().0]});
            Ask::patch(format!("/squads/{}", scene.squad()), archers)
        }),
        writes("remove_squad", OWNERS, |scene| Ask::delete(format!("/squads/{}", scene.squad()))),
    ]
}

fn events() -> Vec<Row> {
    vec![
        writes("add_event", COACHES, |_| {
            let body = json!({"name": "Sent in", "starts_on": "2027-05-01",
                "ends_on": "2027-05-02", "priority": "minor", "arrows_expected": 72});
            Ask::post("/events", body)
        }),
        reads("list_events", ANY, |_| Ask::get("/events?called_off=true&limit=200")),
        reads("get_event", ANY, |scene| Ask::get(format!("/events/{}", scene.event()))),
        writes("change_event", COACHES, |scene| {
            Ask::patch(format!("/events/{}", scene.event()), json!({"arrows_expected": 72}))
        }),
        writes("call_off_event", COACHES, |scene| {
            Ask::delete(format!("/events/{}", scene.event()))
        }),
        writes("set_entries", COACH_OF_BOW, |scene| {
            let body = json!({"entries": []});
            Ask::put(format!("/events/{}/entries", scene.event()), body)
        }),
    ]
}
