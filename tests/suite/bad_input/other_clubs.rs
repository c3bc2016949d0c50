//! Another club's ids do not exist here, whoever knows them.

use serde_json::json;

use super::operations;
use crate::support::{Club, Kit, on_both};

#[test]
fn nothing_of_another_club_is_found_by_its_id() {
    on_both(|database| {
        let club = Club::start(database);
        let kit = Kit::of(&club, club.owner(), None);
        let stranger = club.neighbour();
        let theirs = Kit::of(&club, &stranger, None);
        let before = super::on_record(database);
        for path in [
            format!("/bows/{}", kit.bow),
            format!("/parts/{}", kit.string),
            format!("/bows/{}/timeline", kit.bow),
            format!("/parts/{}/timeline", kit.string),
            format!("/shot-logs?bow_id={}", kit.bow),
            format!("/fittings?bow_id={}", kit.bow),
            format!("/fittings?part_id={}", kit.string),
            format!("/upkeep?part_id={}", kit.string),
            format!("/incidents?bow_id={}", kit.bow),
            format!("/fittings/{}", kit.string_fitting),
            format!("/audit?bow_id={}", kit.bow),
            format!("/shot-logs/possible-duplicates?bow_id={}", kit.bow),
        ] {
            stranger.get(&path).problem(404);
        }
        let known = [
            "/setup",
            "/auth/sign-in",
            "/bows",
            "/parts",
            "/rules",
            "/shot-logs/batch",
            "/members",
            "/events",
            "/squads",
            "/me/password",
        ];
        let patch = json!({"name": "Mine now"});
        stranger.patch(&format!("/bows/{}", kit.bow), "*", &patch).problem(404);
        let theirs_on_mine = json!({"at": "2027-03-01T08:30:00Z", "new_part_id": kit.string});
        stranger.post(&format!("/bows/{}/string-change", theirs.bow), &theirs_on_mine).problem(404);
        let with_ids = operations(&kit).into_iter().filter(|(path, _)| !known.contains(&&**path));
        for (path, body) in with_ids {
            stranger.post(&path, &body).problem(404);
        }
        // One's own part on another's bow or string, and the other way round.
        let at = "2027-03-01T08:30:00Z";
        let string = Kit::part(club.owner(), "string");
        let after = super::on_record(database);
        for (part, host, host_id) in [
            (&string, "bow_id", &theirs.bow),
            (&theirs.string, "bow_id", &kit.bow),
            (&kit.serving, "host_part_id", &theirs.string),
        ] {
            let fitting = json!({"part_id": part, host: host_id, "at": at});
            club.owner().post("/fittings", &fitting).problem(404);
        }
        assert_eq!(super::on_record(database), after);
        let parts = super::TABLES.iter().position(|table| *table == "parts").unwrap();
        let count = |on_record: &[String]| on_record[parts].parse::<u32>().unwrap();
        assert_eq!(count(&after), count(&before) + 1);
    });
}

#[test]
fn an_entry_for_another_clubs_bow_is_refused_and_the_others_are_kept() {
    on_both(|database| {
        let club = Club::start(database);
        let kit = Kit::of(&club, club.owner(), None);
        let stranger = club.neighbour();
        let theirs = Kit::bow(&stranger, None);
        let entry = |bow: &str| json!({"bow_id": bow, "at": "2027-03-01T08:30:00Z", "shots": 3});
        let entries = [entry(&theirs), entry(&kit.bow)];
        let before = super::on_record(database);
        let batch = json!({"mode": "atomic", "entries": entries});
        let refused = club.owner().post("/shot-logs/batch", &batch);
        refused.refuses(422, "/entries/0/bow_id", "unknown_bow");
        assert_eq!(super::on_record(database), before);
        let batch = json!({"mode": "each", "entries": entries});
        let answer = club.owner().post("/shot-logs/batch", &batch).expect(200);
        assert_eq!(answer["results"][0]["errors"][0]["code"], "unknown_bow");
        assert_eq!(answer["results"][1]["outcome"], "new");
        let logs = stranger.get("/shot-logs").expect(200);
        assert_eq!(logs["data"], json!([]));
    });
}

#[test]
fn two_clubs_may_choose_the_same_id_for_a_log() {
    on_both(|database| {
        let club = Club::start(database);
        let stranger = club.neighbour();
        for (person, shots) in [(club.owner(), 7), (&stranger, 9)] {
            let bow = Kit::bow(person, None);
            let log = json!({"id": "01950000-0000-7000-8000-000000000001", "bow_id": bow,
                "at": "2027-03-01T08:30:00Z", "shots": shots});
            let logged = person.post("/shot-logs", &log).expect(201);
            assert_eq!(logged["shot_log"]["shots"], shots);
        }
    });
}

#[test]
fn a_member_of_another_club_can_have_no_bow_here() {
    on_both(|database| {
        let club = Club::start(database);
        let stranger = club.neighbour();
        let known = Kit::bow(club.owner(), None);
        let before = super::on_record(database);
        for field in ["owner_member_id", "archer_member_id", "keeper_member_id"] {
            let bow = json!({"name": "Blue bow", "division": "recurve", "bow_length_in": 66,
                "draw_weight_lbf": 30, field: stranger.id().0});
            let refused = club.owner().post("/bows", &bow);
            refused.refuses(422, &format!("/{field}"), "unknown_member");
            let patch = json!({field: stranger.id().0});
            let refused = club.owner().patch(&format!("/bows/{known}"), "*", &patch);
            refused.refuses(422, &format!("/{field}"), "unknown_member");
        }
        assert_eq!(super::on_record(database), before);
    });
}
