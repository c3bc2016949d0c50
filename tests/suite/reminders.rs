//! The reminders of a club as they are read and answered by whoever is signed in, with what became of the
//! mail that carries each.

use domain::mail::MailState;
use serde_json::{Value, json};

use crate::support::{Club, DAY, Kit, Neglected, Person, Told, on_both};

fn ids(by: &Person, query: &str) -> Vec<String> {
    let list = by.get(&format!("/reminders?{query}")).expect(200);
    let rows = list["data"].as_array().unwrap().iter();
    rows.map(|one| one["id"].as_str().unwrap().to_owned()).collect()
}

fn answer(by: &Person, reminder: &Value, act: &str, body: &Value) -> crate::support::Answer {
    by.post(&format!("/reminders/{}/{act}", reminder["id"].as_str().unwrap()), body)
}

#[test]
fn a_reminder_tells_to_whom_it_was_and_what_became_of_its_mail() {
    on_both(|database| {
        let told = Told::in_database(database);
        let reminder = told.reminder();
        assert_eq!(reminder["recipient_name"], "Ada Invented");
        assert_eq!(
            (&reminder["answered_at"], &reminder["snoozed_until"]),
            (&Value::Null, &Value::Null)
        );
        let mail = &reminder["mail"];
        assert_eq!(mail["id"], reminder["mail_id"]);
        assert_eq!((&mail["kind"], &mail["state"]), (&json!("digest"), &json!("sent")));
        assert_eq!(
            (&mail["attempts"], &mail["wanted_at"]),
            (&json!(1), &json!("2027-03-02T07:30:00Z"))
        );
        let now = json!(told.club.now());
        assert_eq!((&mail["tried_at"], &mail["finished_at"]), (&now, &now));
        assert!(mail["answer"].as_str().is_some_and(|answer| !answer.is_empty()), "{mail}");
    });
}

#[test]
fn reminders_are_found_by_where_they_stand_and_whose_they_are() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (club, owner) = (&told.club, told.club.owner());
        let ben = club.archer("Ben Invented");
        let of_ben = Neglected::of(club, Some(ben.id()));
        club.sweep();
        let first = told.reminder()["id"].as_str().unwrap().to_owned();
        let second = ids(&ben, "").pop().unwrap();
        let check = |query: &str, expected: &[&String]| {
            assert_eq!(ids(owner, query).iter().collect::<Vec<_>>(), expected, "{query}");
        };
        check("", &[&first, &second]);
        check("state=sent", &[&first]);
        check("state=raised", &[&second]);
        check("mail_state=due", &[&second]);
        check("mail_state=sent&state=raised", &[]);
        check(&format!("bow_id={}", of_ben.bow), &[&second]);
        check(&format!("member_id={}", told.archer.id()), &[&first]);
        assert_eq!(ids(&ben, "state=sent"), [""; 0], "of others nothing is shown");
        for (query, pointer) in [("state=gone", "/state"), ("mail_state=gone", "/mail_state")] {
            owner.get(&format!("/reminders?{query}")).refuses(422, pointer, "unknown_word");
        }
        ben.get(&format!("/reminders?bow_id={}", told.of.bow)).problem(403);
        let nobodys = "01950000-0000-7000-8000-0000000000ff";
        owner.get(&format!("/reminders?bow_id={nobodys}")).problem(404);
        owner.get(&format!("/reminders?member_id={nobodys}")).problem(404);
        // Whose address cannot be is told nothing, and that is found.
        database.execute("UPDATE members SET email = 'broken' WHERE name = 'Ben Invented'");
        club.clock.advance(DAY);
        club.sweep();
        check("mail_state=dead", &[&second]);
    });
}

#[test]
fn mails_that_carry_no_reminder_are_seen_by_who_looks_after_their_recipients() {
    on_both(|database| {
        let club = Club::start(database);
        let (coach, archer) = (club.coach("Cleo Invented"), club.archer("Ada Invented"));
        let squad = json!({"name": "Thursdays", "coach_member_ids": [coach.id().0]});
        let squad = club.owner().post("/squads", &squad).expect(201);
        for (name, squads) in [("Odo Invented", json!([squad["id"]])), ("Pia Invented", json!([]))]
        {
            let body = json!({"name": name, "email": format!("{}@home.example", &name[..3]).to_lowercase(),
                "role": "archer", "squad_ids": squads});
            club.owner().post("/members", &body).expect(201);
        }
        database.execute("UPDATE members SET email = 'broken' WHERE name = 'Odo Invented'");
        club.sweep();
        let found = |by: &Person, query: &str| {
            let list = by.get(&format!("/mails{query}")).expect(200);
            list["data"].as_array().unwrap().clone()
        };
        assert_eq!(found(club.owner(), "").len(), 2);
        let dead = found(club.owner(), "?state=dead");
        assert_eq!(dead.len(), 1, "{dead:?}");
        assert_eq!(
            (&dead[0]["kind"], &dead[0]["recipient_name"]),
            (&json!("invitation"), &json!("Odo Invented"))
        );
        assert!(dead[0]["answer"].as_str().unwrap().contains("members.email"), "{dead:?}");
        let fields: Vec<&String> = dead[0].as_object().unwrap().keys().collect();
        assert!(
            !fields.iter().any(|name| ["dedupe_key", "link_id", "body"].contains(&name.as_str()))
        );
        assert_eq!(found(&coach, "").len(), 1, "those of their squad alone");
        assert_eq!(found(club.owner(), "?kind=reset").len(), 0);
        archer.get("/mails").problem(403);
        club.owner().get("/mails?state=gone").refuses(422, "/state", "unknown_word");
        club.owner().get("/mails?kind=gone").refuses(422, "/kind", "unknown_word");
    });
}

#[test]
fn who_is_in_reach_says_that_it_is_done_and_nobody_else_is_told_of_it() {
    on_both(|database| {
        let club = Club::start(database);
        let (archer, keeper) = (club.archer("Ada Invented"), club.archer("Ben Invented"));
        let of = Neglected::of(&club, Some(archer.id()));
        let kept = json!({"keeper_member_id": keeper.id().0});
        club.owner().patch(&format!("/bows/{}", of.bow), "*", &kept).expect(200);
        assert_eq!(club.sweep()["check_maintenance"], 2);
        let list = archer.get("/reminders").expect(200);
        let reminder = &list["data"][0];
        let stranger = club.archer("Dag Invented");
        answer(&stranger, reminder, "done", &json!({})).problem(403);
        let wrong = json!({"at": "2027-03-02T09:00:00Z"});
        answer(&keeper, reminder, "done", &wrong).refuses(422, "/at", "in_future");
        // What is logged at the very moment of the work counts after it.
        club.clock.advance(jiff::SignedDuration::from_mins(1));
        let body = json!({"at": club.now(), "note": "with the good wax"});
        let path = format!("/reminders/{}/done", reminder["id"].as_str().unwrap());
        let done = keeper.post_once(&path, "once", &body).expect(200);
        assert_eq!(
            (&done["state"], &done["recipient_name"]),
            (&json!("done"), &json!("Ada Invented"))
        );
        assert_eq!(keeper.post_once(&path, "once", &body).expect(200), done);
        let waxed = of.waxed(&club);
        assert_eq!(waxed.len(), 1);
        assert_eq!(
            (&waxed[0]["note"], &waxed[0]["entered_by_member_id"]),
            (&json!("with the good wax"), &json!(keeper.id().0))
        );
        answer(&archer, reminder, "done", &json!({})).refuses(409, "", "already_answered");
        club.clock.advance(DAY);
        assert_eq!(club.sweep()["deliver_mail"], 0);
        assert_eq!(club.mail_states(), [MailState::Cancelled; 2]);
        let states = |by: &Person| by.get("/reminders").expect(200)["data"][0]["state"].clone();
        assert_eq!((states(&archer), states(&keeper)), (json!("done"), json!("cancelled")));
    });
}

#[test]
fn work_that_is_taken_back_is_asked_for_again() {
    on_both(|database| {
        let told = Told::in_database(database);
        answer(&told.archer, &told.reminder(), "done", &json!({})).expect(200);
        assert_eq!(told.next_day(), 0);
        let work = told.of.waxed(&told.club)[0]["id"].as_str().unwrap().to_owned();
        let gone = told.club.owner().delete(&format!("/upkeep/{work}"), "*");
        assert!((200..300).contains(&gone.status), "{gone}");
        told.club.sweep();
        assert_eq!(told.next_day(), 1);
        assert_eq!(told.reminder()["state"], "sent");
    });
}

#[test]
fn only_who_it_is_to_puts_it_off_or_says_that_the_bow_is_not_theirs() {
    on_both(|database| {
        let told = Told::in_database(database);
        let (archer, owner, reminder) = (&told.archer, told.club.owner(), told.reminder());
        for (act, body) in [("snooze", json!({})), ("not-my-bow", json!({}))] {
            answer(owner, &reminder, act, &body).problem(403);
        }
        for days in [0, 15, -1] {
            let body = json!({"days": days});
            answer(archer, &reminder, "snooze", &body).refuses(422, "/days", "out_of_range");
        }
        let put_off = answer(archer, &reminder, "snooze", &json!({"days": 14})).expect(200);
        assert_eq!(put_off["snoozed_until"], "2027-03-16T09:00:00Z");
        let sooner = answer(archer, &reminder, "snooze", &json!({})).expect(200);
        assert_eq!(sooner["snoozed_until"], "2027-03-05T09:00:00Z");
        let not_theirs = answer(archer, &reminder, "not-my-bow", &json!({})).expect(200);
        assert_eq!(not_theirs["state"], "disowned");
        answer(archer, &reminder, "snooze", &json!({})).refuses(409, "", "already_answered");
        answer(archer, &reminder, "not-my-bow", &json!({"bow_id": told.of.bow})).refuses(
            422,
            "/bow_id",
            "unknown_field",
        );
    });
}

#[test]
fn a_notice_about_safety_takes_no_answer() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let incident = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": club.now()});
        archer.post("/incidents", &incident).expect(201);
        club.sweep();
        let list = archer.get("/reminders").expect(200);
        let stops = list["data"].as_array().unwrap().iter().filter(|one| one["kind"] == "stop");
        let mut tried = 0;
        for stop in stops {
            for act in ["done", "snooze", "not-my-bow"] {
                answer(&archer, stop, act, &json!({})).refuses(409, "", "not_open");
                tried += 1;
            }
        }
        assert!(tried >= 3);
    });
}
