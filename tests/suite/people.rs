//! The people of a club: inviting, changing, leaving.

use domain::{
    mail::{MailKind, MailState},
    time::Clock,
};
use jiff::SignedDuration;
use serde_json::{Value, json};
use store::testing::Fresh;

use crate::support::{Answer, Club, Person, on_both};

/// Somebody to be invited.
fn odo() -> Value {
    json!({"name": "Odo Fenwright", "email": "odo@club.example", "role": "archer"})
}

fn id_of(body: &Value) -> String {
    body["id"].as_str().unwrap().to_owned()
}

fn path_of(person: &Person) -> String {
    format!("/members/{}", person.id())
}

/// The present version of what is at an address.
#[track_caller]
fn version(by: &Person, path: &str) -> String {
    let answer = by.get(path);
    answer.expect(200);
    answer.header("etag").to_owned()
}

/// Changes what is at an address in its present version.
#[track_caller]
fn change(by: &Person, path: &str, body: &Value) -> Answer {
    by.patch(path, &version(by, path), body)
}

fn squad(by: &Person, coaches: &[&Person], archers: &[&Person]) -> String {
    let ids = |people: &[&Person]| people.iter().map(|one| one.id().0).collect::<Vec<_>>();
    let body = json!({"name": "Thursdays", "coach_member_ids": ids(coaches),
        "archer_member_ids": ids(archers)});
    id_of(&by.post("/squads", &body).expect(201))
}

/// Who is on a list, in its order.
fn names(by: &Person) -> Vec<String> {
    let list = by.get("/members").expect(200);
    let people = list["data"].as_array().unwrap().iter();
    people.map(|one| one["name"].as_str().unwrap().to_owned()).collect()
}

fn count(database: &Fresh, rows: &str) -> String {
    database.texts(&format!("SELECT CAST(COUNT(*) AS TEXT) AS text FROM {rows}")).remove(0)
}

#[test]
fn who_is_invited_is_on_record_and_a_mail_with_a_link_waits() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let mut body = odo();
        body["time_zone"] = json!("America/Lima");
        body["quiet_hours"] = json!({"from": "22:30", "until": "06:00"});
        body["minor_until"] = json!("2030-05-01");
        body["guardian"] = json!({"name": "Runa Fenwright", "email": "runa@club.example",
            "consented_on": "2027-02-01"});
        let squad = squad(owner, &[], &[]);
        body["squad_ids"] = json!([squad, squad]);
        let answer = owner.post("/members", &body);
        let member = answer.expect(201);
        let id = id_of(&member);
        assert_eq!(answer.header("location"), format!("/api/v1/members/{id}"));
        assert_eq!(answer.header("etag"), "\"1\"");
        for name in ["name", "email", "role", "time_zone", "quiet_hours", "minor_until", "guardian"]
        {
            assert_eq!(member[name], body[name], "{name}");
        }
        assert_eq!((&member["joined"], &member["squad_ids"]), (&json!(false), &json!([squad])));
        assert_eq!(owner.get(&format!("/members/{id}")).expect(200), member);
        let archers = &owner.get(&format!("/squads/{squad}")).expect(200)["archer_member_ids"];
        assert_eq!(archers, &json!([id]));

        let outbox = club.outbox();
        let [posted] = outbox.as_slice() else { panic!("{outbox:?}") };
        assert_eq!((posted.mail.kind, posted.mail.state), (MailKind::Invitation, MailState::Due));
        assert_eq!(posted.mail.recipient.to_string(), id);
        assert_eq!(posted.mail.due_at, club.clock.now());
        let link = posted.mail.link.unwrap();
        assert_eq!(posted.mail.dedupe_key, format!("invitation|{link}"));
    });
}

#[test]
fn an_invitation_that_comes_again_under_its_key_is_sent_once() {
    on_both(|database| {
        let club = Club::start(database);
        let first = club.owner().post_once("/members", "monday-1", &odo()).expect(201);
        let again = club.owner().post_once("/members", "monday-1", &odo()).expect(201);
        assert_eq!(first, again);
        assert_eq!(club.outbox().len(), 1);
        club.owner().post("/members", &odo()).refuses(409, "", "address_taken");
    });
}

#[test]
fn an_address_that_looks_like_anothers_is_refused_whatever_letters_it_is_made_of() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let odo_id = id_of(&owner.post("/members", &odo()).expect(201));
        for (address, status, pointer, code) in [
            ("rnaren@club.example", 409, "", "address_alike"),
            ("maren@c1ub.example", 409, "", "address_alike"),
            ("mar\u{435}n@club.example", 422, "/email", "not_ascii"),
        ] {
            let mut alike = odo();
            alike["email"] = json!(address);
            owner.post("/members", &alike).refuses(status, pointer, code);
            let change_to = json!({"email": address});
            change(owner, &format!("/members/{odo_id}"), &change_to).refuses(status, pointer, code);
        }
        assert_eq!(club.outbox().len(), 1, "nothing was mailed to any of them");
    });
}

#[test]
fn two_people_of_a_club_never_share_an_address() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, theirs) = (club.owner(), club.neighbour());
        let odo_id = id_of(&owner.post("/members", &odo()).expect(201));
        let mut again = odo();
        again["email"] = json!("ODO@club.example");
        owner.post("/members", &again).refuses(409, "", "address_taken");
        let taken = json!({"email": "maren@club.example"});
        let path = format!("/members/{odo_id}");
        change(owner, &path, &taken).refuses(409, "", "address_taken");
        // Another club may write to the same person.
        theirs.post("/members", &odo()).expect(201);
        // Somebody who signs in cannot move to an address by which another club's member does.
        let archer = club.archer("Tobin Larkmoor");
        let taken = json!({"email": "pell.wrenfield@club.example"});
        change(owner, &path_of(&archer), &taken).refuses(409, "", "address_taken");
        archer.get("/me").expect(200);
        // It is free again when its owner has left.
        owner.delete(&path, &version(owner, &path));
        owner.post("/members", &odo()).expect(201);
        assert_eq!(count(database, "members WHERE left_at IS NOT NULL"), "1");
    });
}

#[test]
fn a_coach_invites_archers_into_squads_of_their_own() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let (own, other) = (squad(owner, &[&coach], &[]), squad(owner, &[], &[]));
        let invite = |role: &str, squads: Value| {
            let mut body = odo();
            (body["role"], body["squad_ids"]) = (json!(role), squads);
            coach.post("/members", &body)
        };
        for (role, squads) in [
            ("archer", json!([])),
            ("archer", json!([other])),
            ("archer", json!([own, other])),
            ("coach", json!([own])),
            ("owner", json!([own])),
        ] {
            invite(role, squads).problem(403);
        }
        let nowhere = json!([own, "01950000-0000-7000-8000-0000000000ff"]);
        invite("archer", nowhere).refuses(422, "/squad_ids/1", "unknown_squad");
        club.archer("Tobin Larkmoor").post("/members", &odo()).problem(403);
        assert_eq!(club.outbox(), []);
        let odo = invite("archer", json!([own])).expect(201);
        assert_eq!(names(&coach), ["Ferin Oakstave", "Odo Fenwright"]);
        let again = format!("/members/{}/invitation", id_of(&odo));
        assert_eq!(coach.post(&again, &json!({})).status, 204);
        let mut second = super::people::odo();
        second["email"] = json!("second@club.example");
        let other = id_of(&owner.post("/members", &second).expect(201));
        coach.post(&format!("/members/{other}/invitation"), &json!({})).problem(403);
    });
}

#[test]
fn an_invitation_is_sent_again_three_times_a_day_until_somebody_has_joined() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let odo = id_of(&owner.post("/members", &odo()).expect(201));
        let again = || owner.post(&format!("/members/{odo}/invitation"), &json!({}));
        for _ in 0..2 {
            club.clock.advance(SignedDuration::from_hours(1));
            assert_eq!(again().status, 204);
        }
        assert_eq!(club.outbox().len(), 3);
        let refused = again();
        assert_eq!(refused.problem(429)["type"], "/problems/too-often");
        assert_eq!(refused.header("retry-after"), (22 * 3_600).to_string());
        club.clock.advance(SignedDuration::from_hours(22));
        assert_eq!(again().status, 204);
        again().problem(429);
        assert_eq!(club.outbox().len(), 4);

        let archer = club.archer("Tobin Larkmoor");
        let joined = format!("/members/{}/invitation", archer.id());
        owner.post(&joined, &json!({})).refuses(409, "", "joined_already");
        archer.post(&joined, &json!({})).problem(403);
        let absent = "/members/01950000-0000-7000-8000-0000000000ff/invitation";
        owner.post(absent, &json!({})).problem(404);
        club.neighbour().post(&joined, &json!({})).problem(404);
        owner.post(&joined, &json!({"to": "x"})).refuses(422, "/to", "unknown_field");
    });
}

#[test]
fn everybody_sees_those_whom_they_look_after() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        squad(owner, &[&coach], &[&tobin]);
        let stranger = club.neighbour();
        let all = ["Maren Ilves", "Ferin Oakstave", "Tobin Larkmoor", "Ilse Quillfeather"];
        assert_eq!(names(owner), all);
        assert_eq!(names(&coach), ["Ferin Oakstave", "Tobin Larkmoor"]);
        assert_eq!(names(&tobin), ["Tobin Larkmoor"]);
        assert_eq!(names(&stranger), ["Pell Wrenfield"]);
        coach.get(&path_of(&tobin)).expect(200);
        for (person, of) in [(&coach, &ilse), (&tobin, &ilse), (&tobin, &coach)] {
            person.get(&path_of(of)).problem(403);
        }
        stranger.get(&path_of(&tobin)).problem(404);
        owner.get(&path_of(&stranger)).problem(404);
    });
}

#[test]
fn a_minor_has_a_guardian() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let runa = json!({"name": "Runa Fenwright", "email": "runa@club.example"});
        let minor = |until: &str, guardian: &Value| {
            let mut body = odo();
            (body["minor_until"], body["guardian"]) = (json!(until), guardian.clone());
            owner.post("/members", &body)
        };
        minor("2027-03-02", &Value::Null).refuses(422, "/guardian", "guardian_missing");
        minor("2057-03-02", &runa).refuses(422, "/minor_until", "out_of_range");
        minor("2200-01-01", &runa).refuses(422, "/minor_until", "out_of_range");
        let mut faulty = runa.clone();
        faulty["consented_on"] = json!("2027-03-02");
        minor("2030-05-01", &faulty).refuses(422, "/guardian/consented_on", "in_future");
        for (name, value, code) in [
            ("name", json!(""), "empty"),
            ("email", json!("runa"), "malformed"),
            ("consented_on", json!("soon"), "not_a_date"),
            ("phone", json!("1"), "unknown_field"),
        ] {
            let mut faulty = runa.clone();
            faulty[name] = value;
            minor("2030-05-01", &faulty).refuses(422, &format!("/guardian/{name}"), code);
        }
        assert_eq!(club.outbox(), []);
        // Of age since today; and until the last day of thirty years.
        let odo = minor("2027-03-01", &Value::Null).expect(201);
        let path = format!("/members/{}", id_of(&odo));
        let until = json!({"minor_until": "2057-03-01"});
        change(owner, &path, &until).refuses(422, "/guardian", "guardian_missing");
        let both = json!({"minor_until": "2057-03-01", "guardian": runa});
        change(owner, &path, &both).expect(200);
        let without = json!({"guardian": null});
        change(owner, &path, &without).refuses(422, "/guardian", "guardian_missing");
    });
}

#[test]
fn an_owner_changes_everything_and_what_is_absent_stays() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Tobin Larkmoor"));
        let path = path_of(&archer);
        let full = json!({"name": "Tobin L.", "role": "coach", "time_zone": "Asia/Kathmandu",
            "quiet_hours": {"from": "20:00", "until": "08:00"}, "minor_until": "2030-05-01",
            "guardian": {"name": "Runa", "email": "runa@club.example",
            "consented_on": "2027-02-01"}});
        let answer = owner.patch(&path, "\"1\"", &full);
        let mut expected = answer.expect(200);
        assert_eq!(answer.header("etag"), "\"2\"");
        for (name, value) in full.as_object().unwrap() {
            assert_eq!(&expected[name], value, "{name}");
        }
        for (patch, pointer, value) in [
            (json!({"name": "Tobin"}), "/name", json!("Tobin")),
            (json!({"quiet_hours": {"until": "09:00"}}), "/quiet_hours/until", json!("09:00")),
            (json!({"guardian": {"name": "Runa L."}}), "/guardian/name", json!("Runa L.")),
            (json!({"guardian": {"consented_on": null}}), "/guardian/consented_on", json!(null)),
            (json!({"time_zone": null}), "/time_zone", json!(null)),
            (json!({"quiet_hours": null}), "/quiet_hours", json!(null)),
            (json!({"minor_until": null}), "/minor_until", json!(null)),
            (json!({"guardian": null}), "/guardian", json!(null)),
            (json!({"role": "archer"}), "/role", json!("archer")),
        ] {
            *expected.pointer_mut(pointer).unwrap() = value;
            assert_eq!(change(owner, &path, &patch).expect(200), expected, "{patch}");
        }
        assert_eq!(archer.get("/me").expect(200)["name"], "Tobin");
    });
}

#[test]
fn a_change_that_cannot_be_is_refused_by_its_place() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Tobin Larkmoor"));
        let path = path_of(&archer);
        for (patch, pointer, code) in [
            (json!({"name": " "}), "/name", "empty"),
            (json!({"name": null}), "/name", "wrong_type"),
            (json!({"email": "tobin"}), "/email", "malformed"),
            (json!({"role": "emperor"}), "/role", "unknown_word"),
            (json!({"time_zone": "Mars/Base"}), "/time_zone", "unknown_zone"),
            (json!({"quiet_hours": {"from": "20:00"}}), "/quiet_hours/until", "missing"),
            (
                json!({"quiet_hours": {"from": "20:00", "until": "8"}}),
                "/quiet_hours/until",
                "not_a_time_of_day",
            ),
            (json!({"minor_until": "2058-01-01"}), "/minor_until", "out_of_range"),
            (json!({"guardian": {"name": "Runa"}}), "/guardian/email", "missing"),
            (json!({"left_at": null}), "/left_at", "unknown_field"),
            (json!({"id": path}), "/id", "unknown_field"),
            (json!([]), "", "wrong_type"),
        ] {
            change(owner, &path, &patch).refuses(422, pointer, code);
        }
        let name = json!({"name": "Tobin"});
        owner.patch(&path, "", &name).problem(428);
        owner.patch(&path, "\"2\"", &name).problem(412);
        club.neighbour().patch(&path, "*", &name).problem(404);
        assert_eq!(version(owner, &path), "\"1\"");
    });
}

#[test]
fn another_address_is_signed_in_by_or_invited() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Tobin Larkmoor"));
        let sign_in = |email: &str| {
            let body = json!({"email": email, "password": "nine invented feathers"});
            club.anonymous().post("/auth/sign-in", &body).status
        };
        let to = |email: &str| json!({"email": email});
        change(owner, &path_of(&archer), &to("tobin@elsewhere.example")).expect(200);
        assert_eq!(sign_in("tobin.larkmoor@club.example"), 401);
        assert_eq!(sign_in("tobin@elsewhere.example"), 200);
        assert_eq!(club.outbox(), []);

        let odo = id_of(&owner.post("/members", &odo()).expect(201));
        let path = format!("/members/{odo}");
        let unused = || count(database, "one_time_links WHERE used_at IS NULL");
        for n in 2..4 {
            change(owner, &path, &to(&format!("odo{n}@club.example"))).expect(200);
            assert_eq!((unused().as_str(), club.outbox().len()), ("1", n));
        }
        change(owner, &path, &to("odo4@club.example")).problem(429);
        assert_eq!(owner.get(&path).expect(200)["email"], "odo3@club.example");
        assert_eq!((unused().as_str(), club.outbox().len()), ("1", 3));
    });
}

#[test]
fn a_coach_changes_what_their_archers_need_and_nothing_else() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        squad(owner, &[&coach], &[&tobin]);
        let care = json!({"quiet_hours": {"from": "20:00", "until": "08:00"}});
        let changed = change(&coach, &path_of(&tobin), &care).expect(200);
        assert_eq!(changed["quiet_hours"]["from"], "20:00");
        for more in [
            json!({"name": "T."}),
            json!({"email": "t@club.example"}),
            json!({"role": "coach"}),
            json!({"time_zone": null}),
            json!({"minor_until": "2030-05-01"}),
            json!({"guardian": {"name": "Runa", "email": "runa@club.example"}}),
        ] {
            coach.patch(&path_of(&tobin), "*", &more).problem(403);
        }
        for out_of_reach in [&ilse, &coach, owner] {
            coach.patch(&path_of(out_of_reach), "*", &care).problem(403);
        }
        tobin.patch(&path_of(&tobin), "*", &care).problem(403);
        coach.delete(&path_of(&tobin), "*").problem(403);
    });
}

#[test]
fn a_club_keeps_its_last_owner() {
    on_both(|database| {
        let club = Club::start(database);
        let owner = club.owner();
        let path = path_of(owner);
        let refused = || {
            for role in ["archer", "coach"] {
                let demoted = change(owner, &path, &json!({"role": role}));
                demoted.refuses(409, "", "last_owner");
                let told = demoted.json()["detail"].as_str().unwrap().to_owned();
                assert!(told.contains("make somebody else an owner first"), "{told}");
            }
            owner.delete(&path, "*").refuses(409, "", "last_owner");
        };
        refused();
        let second = club.second_owner("Odo Fenwright");
        assert_eq!(second.delete(&path_of(&second), "*").status, 204);
        // Whoever left owns nothing any more.
        refused();
        let third = club.archer("Tobin Larkmoor");
        change(owner, &path_of(&third), &json!({"role": "owner"})).expect(200);
        change(owner, &path, &json!({"role": "archer"})).expect(200);
        third.delete(&path_of(&third), "*").refuses(409, "", "last_owner");
        owner.patch(&path_of(&third), "*", &json!({"role": "archer"})).problem(403);
    });
}

#[test]
fn of_two_owners_who_leave_at_once_one_stays() {
    on_both(|database| {
        let club = Club::start(database);
        let (one, other) = (club.owner(), club.second_owner("Odo Fenwright"));
        for owner in [one, &other] {
            owner.token();
        }
        let leave = |owner: &Person| owner.delete(&path_of(owner), "*").status;
        let mut left = std::thread::scope(|scope| {
            let other = scope.spawn(|| leave(&other));
            [leave(one), other.join().unwrap()]
        });
        left.sort_unstable();
        assert_eq!(left, [204, 409]);
        assert_eq!(count(database, "members WHERE left_at IS NULL AND role = 'owner'"), "1");
    });
}

#[test]
fn who_leaves_is_out_at_once_and_what_they_shot_stays() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, archer) = (club.owner(), club.archer("Tobin Larkmoor"));
        let coach = club.coach("Ferin Oakstave");
        let thursdays = squad(owner, &[&coach], &[&archer]);
        let kit = crate::support::Kit::of(&club, owner, Some(archer.id()));
        let log = json!({"bow_id": kit.bow, "at": "2027-03-01T08:30:00Z", "shots": 30});
        archer.post("/shot-logs", &log).expect(201);
        let bearer = club.bearing(&archer.token().unwrap());
        bearer.get("/me").expect(200);
        let path = path_of(&archer);
        coach.delete(&path, "*").problem(403);
        owner.delete(&path, "").problem(428);
        owner.delete(&path, "\"7\"").problem(412);
        club.neighbour().delete(&path, "*").problem(404);
        bearer.get("/me").expect(200);

        assert_eq!(owner.delete(&path, "\"1\"").status, 204);
        bearer.get("/me").problem(401);
        let sign_in = json!({"email": "tobin.larkmoor@club.example",
            "password": "nine invented feathers"});
        club.anonymous().post("/auth/sign-in", &sign_in).problem(401);
        assert_eq!(names(owner), ["Maren Ilves", "Ferin Oakstave"]);
        let squad = owner.get(&format!("/squads/{thursdays}")).expect(200);
        assert_eq!(squad["archer_member_ids"], json!([]));
        coach.get(&path).problem(403);
        let gone = owner.get(&path).expect(200);
        assert_eq!((&gone["left_at"], &gone["joined"]), (&json!(club.now()), &json!(false)));
        assert_eq!(crate::support::Kit::shots(owner, &kit.string), 30);
        let bow = owner.get(&format!("/bows/{}", kit.bow)).expect(200);
        assert_eq!(bow["archer_member_id"], json!(archer.id().0));
        owner.delete(&path, "*").refuses(409, "", "left_already");
        owner.patch(&path, "*", &json!({"name": "T."})).refuses(409, "", "left_already");
        let again = owner.post(&format!("{path}/invitation"), &json!({}));
        again.refuses(409, "", "left_already");
    });
}

#[test]
fn everybody_may_leave_by_themselves_and_nobody_else() {
    on_both(|database| {
        let club = Club::start(database);
        let (tobin, ilse) = (club.archer("Tobin Larkmoor"), club.archer("Ilse Quillfeather"));
        tobin.delete(&path_of(&ilse), "*").problem(403);
        let bearer = club.bearing(&tobin.token().unwrap());
        assert_eq!(bearer.delete(&path_of(&tobin), "\"1\"").status, 204);
        bearer.get("/me").problem(401);
        assert_eq!(names(club.owner()), ["Maren Ilves", "Ilse Quillfeather"]);
    });
}

#[test]
fn an_open_invitation_of_somebody_who_leaves_is_void() {
    on_both(|database| {
        let club = Club::start(database);
        let odo = id_of(&club.owner().post("/members", &odo()).expect(201));
        assert_eq!(count(database, "one_time_links WHERE used_at IS NULL"), "1");
        club.owner().delete(&format!("/members/{odo}"), "*");
        assert_eq!(count(database, "one_time_links WHERE used_at IS NULL"), "0");
    });
}

#[test]
fn a_coach_who_becomes_an_archer_coaches_no_squad_any_more() {
    on_both(|database| {
        let club = Club::start(database);
        let (owner, coach) = (club.owner(), club.coach("Ferin Oakstave"));
        let archer = club.archer("Tobin Larkmoor");
        let thursdays = squad(owner, &[&coach], &[&coach, &archer]);
        change(owner, &path_of(&coach), &json!({"role": "archer"})).expect(200);
        let squad = owner.get(&format!("/squads/{thursdays}")).expect(200);
        assert_eq!(squad["coach_member_ids"], json!([]));
        assert_eq!(squad["archer_member_ids"], json!([coach.id().0, archer.id().0]));
        assert_eq!(names(&coach), ["Ferin Oakstave"]);
    });
}
