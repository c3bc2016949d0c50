//! The weekly list for the bench, questions about a silent bow, and how much mail one person gets.

use domain::mail::{MailKind, MailState};
use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{Club, Kit, on_both};

const DAY: SignedDuration = SignedDuration::from_hours(24);

fn states(club: &Club, kind: MailKind) -> Vec<MailState> {
    let outbox = club.outbox();
    let of_kind = outbox.iter().filter(|posted| posted.mail.kind == kind);
    of_kind.map(|posted| posted.mail.state).collect()
}

fn set(club: &Club, change: &Value) {
    let read = club.owner().get("/club");
    club.owner().patch("/club", read.header("etag"), change).expect(200);
}

#[test]
fn on_mondays_keepers_and_coaches_get_what_the_bench_has_to_make() {
    on_both(|database| {
        let club = Club::start(database);
        let (archer, coach) = (club.archer("Ada Invented"), club.coach("Cleo Invented"));
        club.squad("Invented squad", &[&coach], &[&archer]);
        let kit = Kit::shot_evenly(club.owner(), Some(archer.id()));
        // 2,900 shots on a serving that is planned for 3,000, at 100 a week.
        for _ in 0..3 {
            let log = json!({"bow_id": kit.bow, "at": "2027-02-20", "shots": 700});
            club.owner().post("/shot-logs", &log).expect(201);
        }
        club.sweep();
        assert_eq!(states(&club, MailKind::Bench), [MailState::Due]);
        club.clock.advance(DAY);
        club.sweep();
        assert_eq!(states(&club, MailKind::Bench), [MailState::Sent], "for the coach alone");
        let mails = club.mails();
        let lists: Vec<&Value> = mails
            .iter()
            .filter(|mail| mail["subject"].as_str().unwrap().starts_with("Bench: "))
            .collect();
        let [list] = lists.as_slice() else { panic!("{lists:#?}") };
        assert!(list["to"][0].as_str().unwrap().contains("cleo.invented@"), "{list:#}");
        let subject = "Bench: re-serve the center serving of Grey recurve, from Tue 2 March on";
        assert_eq!(list["subject"], subject);
        let text = list["text"].as_str().unwrap();
        assert!(text.contains("68 in, 36.5 lbf"), "{text}");
        assert!(text.contains("The club's bench makes 4 jobs a week."), "{text}");
        assert_eq!(list["html_problems"], json!([]));
        // Once a week, and again in the next.
        for _ in 0..7 {
            club.sweep();
            club.clock.advance(DAY);
        }
        club.sweep();
        assert_eq!(states(&club, MailKind::Bench), [MailState::Sent; 2]);
    });
}

#[test]
fn a_bow_that_fell_silent_is_asked_about_once_if_the_club_wants_it() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::shot_evenly(club.owner(), Some(archer.id()));
        club.clock.advance(DAY * 10);
        club.sweep();
        assert_eq!(states(&club, MailKind::Nudge), [], "nobody is asked unless the club says so");
        set(&club, &json!({"nudge_after_days": 10}));
        club.sweep();
        club.clock.advance(DAY);
        club.sweep();
        assert_eq!(states(&club, MailKind::Nudge), [MailState::Sent]);
        let mails = club.mails();
        let asked = mails.iter().find(|mail| mail["subject"].as_str().unwrap().contains("nothing"));
        assert_eq!(asked.unwrap()["subject"], "Grey recurve: nothing logged since Mon 22 February");
        for _ in 0..30 {
            club.clock.advance(DAY);
            club.sweep();
        }
        assert_eq!(states(&club, MailKind::Nudge).len(), 1, "once for each such time");
        let log = json!({"bow_id": kit.bow, "at": "2027-03-20", "shots": 72});
        archer.post("/shot-logs", &log).expect(201);
    });
}

#[test]
fn a_log_before_the_question_went_out_answers_it_and_a_child_is_not_asked() {
    on_both(|database| {
        let club = Club::start(database);
        set(&club, &json!({"nudge_after_days": 10}));
        let (archer, child) = (club.archer("Ada Invented"), club.archer("Nils Invented"));
        let path = format!("/members/{}", child.id().0);
        let read = club.owner().get(&path);
        let minor = json!({"minor_until": "2029-01-01", "guardian": {"name": "Gus Invented",
            "email": "gus@home.example", "consented_on": "2027-01-01"}});
        club.owner().patch(&path, read.header("etag"), &minor).expect(200);
        let kit = Kit::shot_evenly(club.owner(), Some(archer.id()));
        Kit::shot_evenly(club.owner(), Some(child.id()));
        club.clock.advance(DAY * 10);
        club.sweep();
        assert_eq!(states(&club, MailKind::Nudge), [MailState::Due]);
        let log = json!({"bow_id": kit.bow, "at": "2027-03-05", "shots": 72});
        archer.post("/shot-logs", &log).expect(201);
        club.clock.advance(DAY);
        club.sweep();
        assert_eq!(states(&club, MailKind::Nudge), [MailState::Cancelled]);
    });
}

#[test]
fn one_row_that_cannot_be_keeps_nobody_else_from_being_asked() {
    on_both(|database| {
        let club = Club::start(database);
        set(&club, &json!({"nudge_after_days": 10}));
        for archer in ["Ada Invented", "Ben Invented"].map(|name| club.archer(name)) {
            Kit::shot_evenly(club.owner(), Some(archer.id()));
        }
        database.execute("UPDATE members SET email = 'broken' WHERE name = 'Ada Invented'");
        club.clock.advance(DAY * 10);
        club.run_round();
        club.clock.advance(DAY);
        club.run_round();
        assert_eq!(states(&club, MailKind::Nudge), [MailState::Sent]);
        let mails = club.mails();
        let asked = |mail: &&Value| mail["subject"].as_str().unwrap().contains("nothing logged");
        let asked: Vec<&Value> = mails.iter().filter(asked).collect();
        assert!(asked[0]["to"][0].as_str().unwrap().contains("ben.invented@"), "{asked:#?}");
    });
}

#[test]
fn a_club_says_after_how_many_days_and_how_much_mail_there_is() {
    on_both(|database| {
        let club = Club::start(database);
        let read = club.owner().get("/club").expect(200);
        assert_eq!((&read["mails_per_day"], &read["nudge_after_days"]), (&json!(3), &Value::Null));
        for (bad, field) in [
            (json!({"nudge_after_days": 1}), "/nudge_after_days"),
            (json!({"nudge_after_days": 91}), "/nudge_after_days"),
            (json!({"mails_per_day": 0}), "/mails_per_day"),
            (json!({"mails_per_day": 21}), "/mails_per_day"),
        ] {
            let etag = club.owner().get("/club");
            let answer = club.owner().patch("/club", etag.header("etag"), &bad);
            answer.refuses(422, field, "out_of_range");
        }
        set(&club, &json!({"nudge_after_days": 14, "mails_per_day": 5}));
        let read = club.owner().get("/club").expect(200);
        assert_eq!((&read["mails_per_day"], &read["nudge_after_days"]), (&json!(5), &json!(14)));
        set(&club, &json!({"nudge_after_days": null}));
        assert_eq!(club.owner().get("/club").expect(200)["nudge_after_days"], Value::Null);
    });
}

#[test]
fn mail_that_can_wait_is_spread_over_days_and_none_comes_after_its_event() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        set(&club, &json!({"mails_per_day": 2}));
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let rounds = [("A", "2027-03-03"), ("B", "2027-03-20"), ("C", "2027-03-21")];
        let events = rounds.map(|(name, day)| {
            let name = format!("Invented Round {name}");
            (club.event(&name, day, &[(&archer, &kit.bow)]), day)
        });
        club.sweep();
        let mut planned: Vec<(String, u32)> = Vec::new();
        for posted in club.outbox() {
            let mine = posted.mail.recipient == archer.id() && posted.mail.kind == MailKind::Event;
            if mine {
                let day = posted.mail.for_date.to_string();
                match planned.iter_mut().find(|(on, _)| *on == day) {
                    Some((_, count)) => *count += 1,
                    None => planned.push((day, 1)),
                }
            }
        }
        planned.sort();
        // One a day beside the digest. All three still lie before their event.
        let days = ["2027-03-02", "2027-03-03", "2027-03-04"];
        assert_eq!(planned, days.map(|day| (day.to_owned(), 1)), "{planned:?}");
        // Each of them before its own: that of the next event is the one that cannot wait.
        let outbox = club.outbox();
        let planned_of = events.map(|(event, starts_on)| {
            let about = format!("{}|{event}|", MailKind::Event);
            let mine = outbox.iter().filter(|posted| posted.mail.recipient == archer.id());
            let mails: Vec<String> = mine
                .filter(|posted| posted.mail.dedupe_key.starts_with(&about))
                .map(|posted| posted.mail.for_date.to_string())
                .collect();
            let [day] = mails.as_slice() else { panic!("{about}: {mails:?}") };
            assert!(day.as_str() < starts_on, "{day} is not before {starts_on}");
            day.clone()
        });
        assert_eq!(planned_of[0], days[0]);
    });
}

#[test]
fn what_comes_due_while_a_digest_waits_for_the_relay_is_told_in_that_one() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kits = [(); 2].map(|()| Kit::of(&club, club.owner(), Some(archer.id())));
        let shoot = |kit: &Kit| {
            let log = json!({"bow_id": kit.bow, "at": club.now(), "shots": 510});
            archer.post("/shot-logs", &log).expect(201);
        };
        shoot(&kits[0]);
        club.sweep();
        let digests = || {
            let mut outbox = club.outbox();
            outbox.retain(|posted| {
                posted.mail.kind == MailKind::Digest && posted.mail.recipient == archer.id()
            });
            outbox
        };
        assert_eq!(digests().len(), 1);
        // As a relay that did not take it this morning leaves it behind.
        database.execute("UPDATE outbox SET state = 'retry', attempt = 3 WHERE kind = 'digest'");
        shoot(&kits[1]);
        club.sweep();
        assert_eq!(digests().len(), 1, "two digests would come on one day");
        club.clock.advance(DAY);
        club.sweep();
        assert_eq!(digests()[0].mail.state, MailState::Sent);
        let mails = club.mails();
        let theirs = |mail: &&Value| mail["to"][0].as_str().unwrap().contains("ada.invented@");
        let told: Vec<&Value> = mails.iter().filter(theirs).collect();
        let [digest] = told.as_slice() else { panic!("{told:#?}") };
        assert_eq!(digest["text"].as_str().unwrap().matches("Wax the string").count(), 2);
    });
}
