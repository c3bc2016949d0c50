//! A mail says what is true when it goes out, and what is wrong with one harms no other.

use domain::mail::MailState;
use jiff::SignedDuration;
use serde_json::json;

use crate::support::{Club, Kit, Person, on_both};

const NEXT_DAY: SignedDuration = SignedDuration::from_hours(24);

/// A bow of an archer, whose string was shot 520 times and never waxed; what is fitted to it.
fn neglected_bow(club: &Club, archer: &Person) -> (String, String, String) {
    let bow = Kit::bow(club.owner(), Some(archer.id()));
    let string = Kit::part(club.owner(), "string");
    let now = club.now();
    let fitting = json!({"part_id": string, "bow_id": bow, "at": now});
    let fitting = club.owner().post("/fittings", &fitting).expect(201);
    Kit::measured(club.owner(), &string, &now);
    let log = json!({"bow_id": bow, "at": now, "shots": 520});
    club.owner().post("/shot-logs", &log).expect(201);
    (bow, string, fitting["id"].as_str().unwrap().to_owned())
}

#[test]
fn a_row_that_cannot_be_keeps_nobody_else_from_their_mail() {
    on_both(|database| {
        let club = Club::start(database);
        for name in ["Ada Invented", "Ben Invented", "Cleo Invented"] {
            neglected_bow(&club, &club.archer(name));
        }
        assert_eq!(club.sweep(), json!({"check_maintenance": 3, "deliver_mail": 0}));
        database.execute("UPDATE members SET email = 'broken' WHERE name = 'Ada Invented'");
        club.clock.advance(NEXT_DAY);
        club.run_round();
        let mut states = club.mail_states();
        states.sort();
        assert_eq!(states, [MailState::Sent, MailState::Sent, MailState::Dead]);
        let dead = club.outbox().into_iter().find(|one| one.mail.state == MailState::Dead);
        let why = dead.unwrap().outcome.unwrap();
        assert!(why.contains("members.email") && why.contains("broken"), "{why}");
    });
}

#[test]
fn a_reminder_that_was_untrue_for_a_while_is_sent_when_it_is_true_again() {
    on_both(|database| {
        let club = Club::start(database);
        let (bow, string, fitting) = neglected_bow(&club, &club.archer("Ada Invented"));
        club.sweep();
        club.clock.advance(SignedDuration::from_hours(1));
        let off = json!({"at": club.now()});
        club.owner().post(&format!("/fittings/{fitting}/removal"), &off).expect(200);
        club.clock.advance(NEXT_DAY);
        club.sweep();
        assert_eq!(club.mail_states(), [MailState::Cancelled]);
        let on = json!({"part_id": string, "bow_id": bow, "at": club.now()});
        club.owner().post("/fittings", &on).expect(201);
        Kit::measured(club.owner(), &string, &club.now());
        assert_eq!(club.sweep(), json!({"check_maintenance": 1, "deliver_mail": 0}));
        club.clock.advance(NEXT_DAY);
        assert_eq!(club.sweep()["deliver_mail"], 1);
        assert_eq!(club.mail_states(), [MailState::Cancelled, MailState::Sent]);
        assert!(club.mails()[0]["text"].as_str().unwrap().contains("520 shots and never waxed"));
    });
}
