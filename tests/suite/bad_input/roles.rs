//! What an archer may not do.

use serde_json::{Value, json};

use super::{on_record, operations};
use crate::support::{Club, Kit, Person, on_both};

#[test]
fn an_archer_manages_nothing_that_is_not_theirs() {
    on_both(|database| {
        let club = Club::start(database);
        let (archer, other) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let kit = Kit::of(&club, club.owner(), Some(other.id()));
        archer.token();
        let before = on_record(database);
        for path in [
            format!("/bows/{}", kit.bow),
            format!("/parts/{}", kit.string),
            format!("/parts/{}", kit.serving),
            format!("/fittings?bow_id={}", kit.bow),
            format!("/fittings?part_id={}", kit.serving),
            format!("/upkeep?part_id={}", kit.string),
            format!("/incidents?bow_id={}", kit.bow),
            format!("/fittings/{}", kit.string_fitting),
            format!("/audit?bow_id={}", kit.bow),
            format!("/shot-logs/possible-duplicates?bow_id={}", kit.bow),
        ] {
            assert_eq!(archer.get(&path).problem(403)["type"], "/problems/forbidden");
        }
        for list in ["/bows", "/parts", "/shot-logs", "/incidents"] {
            assert_eq!(archer.get(list).expect(200), json!({"data": [], "next_cursor": null}));
        }
        let open = ["/setup", "/auth/sign-in", "/shot-logs/batch", "/me/password"];
        let managing: Vec<_> =
            operations(&kit).into_iter().filter(|(path, _)| !open.contains(&&**path)).collect();
        assert!(managing.len() >= 9);
        for (path, body) in managing {
            archer.post(&path, &body).problem(403);
        }
        let patch = json!({"name": "Mine now"});
        archer.patch(&format!("/bows/{}", kit.bow), "*", &patch).problem(403);
        assert_eq!(on_record(database), before);
        archer.get("/me").expect(200);
    });
}

#[test]
fn an_archer_logs_for_their_own_bow_and_for_no_other() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let own = Kit::of(&club, club.owner(), Some(tobin.id()));
        let other = Kit::of(&club, club.owner(), Some(ilse.id()));
        let of_club = Kit::bow(club.owner(), None);
        let log = |bow: &str| json!({"bow_id": bow, "at": "2027-03-01T08:30:00Z", "shots": 12});
        tobin.post("/shot-logs", &log(&own.bow)).expect(201);
        let before = on_record(database);
        for bow in [&other.bow, &of_club] {
            tobin.post("/shot-logs", &log(bow)).problem(403);
            let entries = [log(&own.bow), log(bow)];
            let batch = json!({"mode": "atomic", "entries": entries});
            let refused = tobin.post("/shot-logs/batch", &batch);
            refused.refuses(422, "/entries/1/bow_id", "forbidden");
        }
        assert_eq!(on_record(database), before);
        let batch = json!({"mode": "each", "entries": [log(&other.bow), log(&own.bow)]});
        let answer = tobin.post("/shot-logs/batch", &batch).expect(200);
        let outcomes = answer["results"].as_array().unwrap().iter().map(|one| &one["outcome"]);
        assert_eq!(outcomes.collect::<Vec<_>>(), ["refused", "new"]);
        assert_eq!(Kit::shots(club.owner(), &own.string), 24);
        assert_eq!(Kit::shots(club.owner(), &other.string), 0);
    });
}

#[test]
fn a_keeper_and_an_owner_log_for_their_bow_too() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        for role in ["owner_member_id", "keeper_member_id"] {
            let bow = json!({"name": "Lent bow", "division": "longbow", "bow_length_in": 68,
                "draw_weight_lbf": 40, "archer_member_id": ilse.id().0, role: tobin.id().0});
            let bow = club.owner().post("/bows", &bow).expect(201);
            let log = json!({"bow_id": bow["id"], "at": "2027-03-01T08:30:00Z", "shots": 12});
            tobin.post("/shot-logs", &log).expect(201);
        }
    });
}

#[test]
fn an_archer_works_on_what_hangs_under_a_bow_of_theirs_and_on_nothing_else() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let own = Kit::of(&club, club.owner(), Some(tobin.id()));
        let other = Kit::of(&club, club.owner(), Some(ilse.id()));
        let of_club = Kit::of(&club, club.owner(), None);
        let in_case = Kit::part(club.owner(), "string");
        let work = |part: &str, task: &str| {
            let at = "2027-03-01T08:30:00Z";
            tobin.post("/upkeep", &json!({"part_id": part, "task": task, "at": at}))
        };
        let before = on_record(database);
        for part in [&other.string, &other.serving, &of_club.string, &in_case] {
            for task in ["waxed", "inspected", "re_served"] {
                assert_eq!(work(part, task).problem(403)["type"], "/problems/forbidden");
            }
        }
        work("01950000-0000-7000-8000-0000000000ff", "waxed").problem(404);
        assert_eq!(on_record(database), before);

        let waxed = work(&own.string, "waxed").expect(201);
        assert_eq!(waxed["entered_by_member_id"], json!(tobin.id().0));
        // The serving hangs under the bow by way of the string; so does the one wound in its place.
        let served = work(&own.serving, "re_served").expect(201);
        work(served["successor"]["id"].as_str().unwrap(), "inspected").expect(201);
        work(&own.serving, "inspected").refuses(409, "", "part_retired");

        let removal = format!("/fittings/{}/removal", own.string_fitting);
        let off = json!({"at": "2027-03-01T08:45:00Z"});
        club.owner().post(&removal, &off).expect(200);
        // In the case it is still the string of that bow.
        work(&own.string, "waxed").expect(201);
    });
}

#[test]
fn a_keeper_and_an_owner_work_on_their_bow_too() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        for role in ["owner_member_id", "keeper_member_id"] {
            let bow = json!({"name": "Lent bow", "division": "longbow", "bow_length_in": 68,
                "draw_weight_lbf": 40, "archer_member_id": ilse.id().0, role: tobin.id().0});
            let bow = club.owner().post("/bows", &bow).expect(201);
            let string = Kit::part(club.owner(), "string");
            let fitting = json!({"part_id": string, "bow_id": bow["id"],
                "at": "2027-03-01T08:00:00Z"});
            club.owner().post("/fittings", &fitting).expect(201);
            let work = json!({"part_id": string, "task": "waxed", "at": "2027-03-01T08:30:00Z"});
            tobin.post("/upkeep", &work).expect(201);
        }
    });
}

#[test]
fn an_archer_sees_the_reminders_that_are_theirs() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        for person in [&tobin, &ilse] {
            let kit = Kit::of(&club, club.owner(), Some(person.id()));
            Kit::measured(club.owner(), &kit.string, "2027-02-28T09:00:00Z");
            let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 520});
            person.post("/shot-logs", &log).expect(201);
        }
        assert_eq!(club.sweep()["check_maintenance"], 2);
        let all = club.owner().get("/reminders").expect(200);
        assert_eq!(all["data"].as_array().unwrap().len(), 2);
        for person in [&tobin, &ilse] {
            let own = person.get("/reminders").expect(200);
            let recipients: Vec<&Value> = own["data"]
                .as_array()
                .unwrap()
                .iter()
                .map(|one| &one["recipient_member_id"])
                .collect();
            assert_eq!(recipients, [&json!(person.id().0)]);
        }
    });
}

#[test]
fn a_coach_sees_the_reminders_to_those_whom_they_reach() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        let (coach, other) = (club.coach("Runa Hollowell"), club.coach("Odo Fenwright"));
        club.squad("Thursdays", &[&coach], &[&tobin]);
        for person in [&tobin, &ilse] {
            let kit = Kit::of(&club, club.owner(), Some(person.id()));
            let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 520});
            person.post("/shot-logs", &log).expect(201);
        }
        club.sweep();
        let told = |by: &Person| {
            let told = by.get("/reminders?limit=200").expect(200);
            let to = told["data"].as_array().unwrap().iter();
            to.map(|one| one["recipient_member_id"].clone()).collect::<Vec<_>>()
        };
        let (all, to_squad, to_other) = (told(club.owner()), told(&coach), told(&other));
        let reached = [json!(coach.id().0), json!(tobin.id().0)];
        assert!(all.contains(&json!(ilse.id().0)) && to_squad.contains(&json!(tobin.id().0)));
        let expected: Vec<Value> = all.into_iter().filter(|to| reached.contains(to)).collect();
        assert_eq!(to_squad, expected);
        assert!(to_other.iter().all(|to| *to == json!(other.id().0)), "{to_other:?}");
    });
}
