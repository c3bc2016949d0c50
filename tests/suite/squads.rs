//! Squads, and who changes them.

use serde_json::{Value, json};

use crate::support::{Club, Person, on_both};

const NOBODY: &str = "01950000-0000-7000-8000-0000000000ff";

fn ids(people: &[&Person]) -> Value {
    people.iter().map(|person| json!(person.id().0)).collect()
}

fn thursdays(coaches: &[&Person], archers: &[&Person]) -> Value {
    json!({"name": "Thursdays", "coach_member_ids": ids(coaches),
        "archer_member_ids": ids(archers)})
}

/// Makes a squad; its address.
#[track_caller]
fn made(by: &Person, body: &Value) -> String {
    let squad = by.post("/squads", body).expect(201);
    format!("/squads/{}", squad["id"].as_str().unwrap())
}

#[test]
fn a_squad_is_made_read_changed_and_ended() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let answer = owner.post("/squads", &thursdays(&[&coach, owner], &[&tobin, &tobin]));
        let squad = answer.expect(201);
        let path = format!("/squads/{}", squad["id"].as_str().unwrap());
        assert_eq!(answer.header("location"), format!("/api/v1{path}"));
        assert_eq!(answer.header("etag"), "\"1\"");
        assert_eq!(squad["coach_member_ids"], ids(&[owner, &coach]));
        assert_eq!(squad["archer_member_ids"], ids(&[&tobin]));
        assert_eq!(owner.get(&path).expect(200), squad);
        let empty = owner.post("/squads", &json!({"name": "Beginners"})).expect(201);
        assert_eq!(owner.get("/squads").expect(200)["data"], json!([squad, empty]));

        let renamed = json!({"name": "Fridays"});
        owner.patch(&path, "", &renamed).problem(428);
        owner.patch(&path, "\"2\"", &renamed).problem(412);
        let answer = owner.patch(&path, "\"1\"", &renamed);
        let changed = answer.expect(200);
        assert_eq!(answer.header("etag"), "\"2\"");
        assert_eq!(changed["archer_member_ids"], ids(&[&tobin]));
        let people = json!({"coach_member_ids": [], "archer_member_ids": ids(&[&ilse])});
        let changed = owner.patch(&path, "\"2\"", &people).expect(200);
        assert_eq!(
            (&changed["name"], &changed["coach_member_ids"]),
            (&json!("Fridays"), &json!([]))
        );
        assert_eq!(changed["archer_member_ids"], ids(&[&ilse]));

        owner.delete(&path, "").problem(428);
        owner.delete(&path, "\"2\"").problem(412);
        assert_eq!(owner.delete(&path, "\"3\"").status, 204);
        owner.get(&path).problem(404);
        owner.delete(&path, "*").problem(404);
        assert_eq!(owner.get("/squads").expect(200)["data"], json!([empty]));
        assert_eq!(owner.get("/members").expect(200)["data"].as_array().unwrap().len(), 4);
    });
}

#[test]
fn only_members_are_in_a_squad_and_only_coaches_and_owners_coach_it() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let (tobin, gone) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let stranger = club.neighbour();
        assert_eq!(gone.delete(&format!("/members/{}", gone.id()), "*").status, 204);
        let path = made(owner, &thursdays(&[&coach], &[&tobin]));
        let good = [json!(coach.id().0)];
        for (unknown, code) in [
            (json!(NOBODY), "unknown_member"),
            (json!(stranger.id().0), "unknown_member"),
            (json!(gone.id().0), "unknown_member"),
            (json!(tobin.id().0), "not_a_coach"),
        ] {
            let named = [&good[..], &[unknown]].concat();
            for field in ["coach_member_ids", "archer_member_ids"] {
                if code == "not_a_coach" && field == "archer_member_ids" {
                    continue;
                }
                let pointer = format!("/{field}/1");
                let body = json!({"name": "Fridays", field: named});
                owner.post("/squads", &body).refuses(422, &pointer, code);
                owner.patch(&path, "*", &json!({field: named})).refuses(422, &pointer, code);
            }
        }
        let crowd = json!({"name": "Everybody", "archer_member_ids": vec![NOBODY; 1_001]});
        owner.post("/squads", &crowd).refuses(422, "/archer_member_ids", "bad_length");
        for (patch, pointer, code) in [
            (json!({"name": ""}), "/name", "empty"),
            (json!({"name": null}), "/name", "wrong_type"),
            (json!({"archer_member_ids": null}), "/archer_member_ids", "wrong_type"),
            (json!({"members": []}), "/members", "unknown_field"),
        ] {
            owner.patch(&path, "*", &patch).refuses(422, pointer, code);
        }
        let squads = owner.get("/squads").expect(200);
        assert_eq!(squads["data"].as_array().unwrap().len(), 1);
        assert_eq!(owner.get(&path).header("etag"), "\"1\"");
    });
}

#[test]
fn a_coach_changes_who_shoots_in_their_squad_and_nothing_else() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let own = made(owner, &thursdays(&[&coach], &[&tobin]));
        // Whom they coach already, in another squad, they may take in.
        made(owner, &thursdays(&[&coach], &[&ilse]));
        let other = made(owner, &thursdays(&[], &[&coach, &ilse]));
        let archers = json!({"archer_member_ids": ids(&[&tobin, &ilse])});
        let changed = coach.patch(&own, "\"1\"", &archers).expect(200);
        assert_eq!(changed["archer_member_ids"], ids(&[&tobin, &ilse]));
        for more in [
            json!({"name": "Mine"}),
            json!({"coach_member_ids": ids(&[&coach])}),
            json!({"archer_member_ids": [], "name": "Mine"}),
        ] {
            coach.patch(&own, "*", &more).problem(403);
        }
        coach.patch(&other, "*", &archers).problem(403);
        tobin.patch(&own, "*", &archers).problem(403);
        for person in [&coach, &tobin] {
            person.post("/squads", &json!({"name": "Mine"})).problem(403);
            person.delete(&own, "*").problem(403);
        }
    });
}

#[test]
fn everybody_sees_their_own_squads_as_far_as_they_reach() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let own = made(owner, &thursdays(&[&coach], &[&tobin, &ilse]));
        let other = made(owner, &thursdays(&[owner], &[&ilse]));
        let seen = |person: &Person| {
            let list = person.get("/squads").expect(200);
            let squads = list["data"].as_array().unwrap().iter();
            squads.map(|squad| squad["archer_member_ids"].clone()).collect::<Vec<_>>()
        };
        assert_eq!(seen(owner), [ids(&[&tobin, &ilse]), ids(&[&ilse])]);
        assert_eq!(seen(&coach), [ids(&[&tobin, &ilse])]);
        assert_eq!(seen(&tobin), [ids(&[&tobin])]);
        assert_eq!(seen(&ilse), [ids(&[&ilse]), ids(&[&ilse])]);
        for person in [&coach, &tobin] {
            person.get(&own).expect(200);
            person.get(&other).problem(403);
        }
        let stranger = club.neighbour();
        stranger.get(&own).problem(404);
        stranger.patch(&own, "*", &json!({"name": "Mine"})).problem(404);
        stranger.delete(&own, "*").problem(404);
        assert_eq!(stranger.get("/squads").expect(200)["data"], json!([]));
    });
}

#[test]
fn a_squad_is_no_way_for_a_coach_to_reach_people() {
    on_both(|database| {
        let club = Club::start(database);
        let (coach, own) = (club.coach("Cleo Invented"), club.archer("Ada Invented"));
        let stranger = club.archer("Ben Invented");
        let body = json!({"name": "Thursdays", "coach_member_ids": [coach.id().0],
            "archer_member_ids": [own.id().0]});
        let squad = club.owner().post("/squads", &body).expect(201);
        let path = format!("/squads/{}", squad["id"].as_str().unwrap());
        for taken_in in [&stranger, club.owner()] {
            let wider = json!({"archer_member_ids": [own.id().0, taken_in.id().0]});
            coach.patch(&path, "*", &wider).problem(403);
        }
        let guardian = json!({"minor_until": "2040-01-01",
            "guardian": {"name": "Cleo Invented", "email": "cleo.invented@club.example"}});
        for whose in [&own, &stranger, club.owner()] {
            coach.patch(&format!("/members/{}", whose.id().0), "*", &guardian).problem(403);
        }
        let fewer = json!({"archer_member_ids": []});
        coach.patch(&path, "*", &fewer).expect(200);
    });
}
