//! Outages: a relay that is gone for hours, one that never comes back, and the pace of what waited.

use std::{sync::Arc, time::Duration};

use domain::{
    mail::{MailKind, MailState},
    members::EmailAddress,
    time::Clock,
};
use jiff::{SignedDuration, Timestamp};
use serde_json::Value;
use store::outbox::Posted;
use tokio_util::sync::CancellationToken;
use worker::{Sending, Worker, mail::Transport};

use super::{club_at, invite, last_to, words};
use crate::support::{Club, Kit, Person, SmtpServer, on_both, seals, until};

const MINUTE: SignedDuration = SignedDuration::from_mins(1);

/// Twenty archers who go to an event on 2 March 2027, and are to be told of it on its morning.
fn archers_of_an_event(club: &Club) -> Vec<Person> {
    let archers: Vec<Person> =
        (0..20).map(|number| club.archer(&format!("Going Archer {number}"))).collect();
    let kits: Vec<Kit> =
        archers.iter().map(|one| Kit::of(club, club.owner(), Some(one.id()))).collect();
    let entries: Vec<(&Person, &String)> =
        archers.iter().zip(&kits).map(|(one, kit)| (one, &kit.bow)).collect();
    club.event("Invented Round", "2027-03-02", &entries);
    archers
}

#[test]
fn after_six_hours_without_a_relay_all_that_is_true_is_out_within_fifteen_minutes() {
    on_both(|database| {
        let relay = SmtpServer::start("accept");
        let club = club_at(database, &relay.url, Duration::from_secs(20));
        let (folder, port) = relay.stop();
        archers_of_an_event(&club);
        club.run_round();
        // The evening of the event's day: the worker comes back, and the relay is gone until half past
        // midnight.
        club.clock.set("2027-03-02T18:30:00Z".parse().unwrap());
        for number in 0..290 {
            invite(&club, &format!("Invented Archer {number}"), None);
        }
        for _ in 0..6 * 60 {
            club.run_round();
            club.clock.advance(MINUTE);
        }
        let waiting = club.outbox();
        assert!(waiting.len() >= 310, "{}", waiting.len());
        let of_event = waiting.iter().filter(|one| is_of_event(one)).count();
        assert!(of_event >= 20, "{of_event}");
        for one in &waiting {
            let waits = matches!(one.mail.state, MailState::Due | MailState::Retry);
            // Midnight has taken the point of the mails about the event, tried or not.
            let pointless = is_of_event(one) && one.mail.state == MailState::Cancelled;
            assert!(waits || pointless, "{one:?}");
            let soon = club.clock.now() + SignedDuration::from_mins(10);
            let quiet = one.mail.kind.waits_for_morning();
            assert!(!waits || quiet || one.mail.due_at <= soon, "{one:?}");
        }

        let relay = SmtpServer::start_with("accept", folder, &["--port", &port.to_string()]);
        let (mut minutes, mut arrived, mut busiest) = (0, 0, 0);
        // All that goes out at night; the rest waits for the end of quiet hours.
        let left = || {
            let over = [MailState::Sent, MailState::Cancelled];
            let waits = |one: &&Posted| !over.contains(&one.mail.state);
            let at_night = |one: &&Posted| !one.mail.kind.waits_for_morning();
            club.outbox().iter().filter(waits).filter(at_night).count()
        };
        while left() > 0 {
            assert!(minutes < 15, "{} wait after {minutes} minutes", left());
            club.run_round();
            let now = relay.envelopes().len();
            busiest = busiest.max(now - arrived);
            arrived = now;
            minutes += 1;
            club.clock.advance(MINUTE);
        }
        assert!(busiest <= 60, "{busiest} in a minute");
        println!("{arrived} mails within {minutes} minutes, at most {busiest} in one of them");
        club.clock.set("2027-03-03T07:31:00Z".parse().unwrap());
        club.run_round();
        check_what_arrived(&club, &relay);
    });
}

/// Whether it is to somebody who goes to the event, or to who coaches them.
fn is_of_event(posted: &Posted) -> bool {
    matches!(posted.mail.kind, MailKind::Event | MailKind::Squad)
}

/// Each mail that is marked as sent arrived once, and each one about the event was called off.
fn check_what_arrived(club: &Club, relay: &SmtpServer) {
    let mut ids: Vec<String> = relay.mails().iter().map(message_id).collect();
    ids.sort();
    let outbox = club.outbox();
    let sent = outbox.iter().filter(|one| one.mail.state == MailState::Sent);
    let mut expected: Vec<String> =
        sent.map(|one| format!("<{}@tautline.example>", one.mail.id)).collect();
    expected.sort();
    assert!(expected.len() >= 290, "{}", expected.len());
    assert_eq!(ids, expected);
    for one in outbox.iter().filter(|one| is_of_event(one)) {
        assert_eq!(one.mail.state, MailState::Cancelled, "{one:?}");
        assert_eq!(words(one), "nothing that it was to say is true any more");
    }
}

fn message_id(mail: &Value) -> String {
    mail["message_id"].as_str().unwrap().to_owned()
}

/// A clock that runs twenty times as fast as the machine's.
struct Hasty(std::time::Instant, Timestamp);

impl Clock for Hasty {
    fn now(&self) -> Timestamp {
        self.1 + SignedDuration::try_from(self.0.elapsed() * 20).unwrap()
    }
}

#[test]
fn a_worker_that_keeps_to_its_pace_goes_on_before_the_next_minute() {
    let database = store::testing::sqlite();
    let relay = SmtpServer::start("accept");
    let club = club_at(&database, &relay.url, Duration::from_secs(20));
    for number in 0..12 {
        invite(&club, &format!("Invented Archer {number}"), None);
    }
    let clock = Arc::new(Hasty(std::time::Instant::now(), club.clock.now()));
    let sending = Sending {
        from: EmailAddress::parse("bench@tautline.example").unwrap(),
        base_url: "https://tautline.example".to_owned(),
        lease: SignedDuration::from_mins(2),
        per_minute: 4,
        seals: seals(),
    };
    let transport = Transport::smtp(&relay.url).unwrap();
    let worker = Worker::new(club.store.clone(), clock, transport, sending);
    let (runtime, stop) = (tokio::runtime::Runtime::new().unwrap(), CancellationToken::new());
    let working = runtime.spawn(worker::schedule::run(worker, stop.clone()));
    // Real minutes alone would need two of them.
    until("all twelve mails, four in each hasty minute", || {
        (relay.envelopes().len() == 12).then_some(())
    });
    stop.cancel();
    runtime.block_on(working).unwrap().unwrap();
    let mut times: Vec<Timestamp> = club.outbox().iter().map(|one| one.tried_at.unwrap()).collect();
    times.sort();
    for five in times.windows(5) {
        assert!(five[4].duration_since(five[0]) >= MINUTE, "{times:?}");
    }
}

#[test]
fn a_mail_is_given_up_after_two_days_and_says_so() {
    on_both(|database| {
        let relay = SmtpServer::start("accept");
        let club = club_at(database, &relay.url, Duration::from_secs(20));
        let (folder, port) = relay.stop();
        let member = invite(&club, "Ada Invented", None);
        let wanted = club.clock.now();
        let mut tries = 0;
        let given_up = loop {
            club.run_round();
            tries += 1;
            let posted = last_to(&club, &member);
            if posted.mail.state == MailState::Dead {
                break posted;
            }
            assert_eq!(posted.mail.state, MailState::Retry, "{posted:?}");
            assert_eq!(posted.mail.wanted_at, wanted);
            let pause = posted.mail.due_at.duration_since(club.clock.now());
            assert!(pause <= SignedDuration::from_mins(10), "{posted:?}");
            club.clock.set(posted.mail.due_at);
        };
        let age = club.clock.now().duration_since(wanted);
        assert!(age >= SignedDuration::from_hours(48), "{age:?}");
        assert!(age <= SignedDuration::from_hours(48) + SignedDuration::from_mins(10), "{age:?}");
        assert!(tries > 280, "{tries}");
        let said = words(&given_up);
        assert!(said.starts_with(&format!("given up: wanted at {wanted}, tried {tries} times; ")));
        assert!(said.contains("connecting: "), "{said}");
        // It stays so, whatever the relay does later.
        let relay = SmtpServer::start_with("accept", folder, &["--port", &port.to_string()]);
        club.clock.advance(SignedDuration::from_hours(2));
        club.run_round();
        assert_eq!(last_to(&club, &member).mail.state, MailState::Dead);
        assert!(relay.mails().is_empty());
    });
}

#[test]
fn a_refusal_for_now_is_tried_again_after_1_5_15_and_60_minutes_then_hourly() {
    on_both(|database| {
        let relay = SmtpServer::start("451-at-end");
        let club = club_at(database, &relay.url, Duration::from_secs(20));
        let member = invite(&club, "Ada Invented", None);
        let mut pauses = Vec::new();
        for _ in 0..7 {
            club.run_round();
            let posted = last_to(&club, &member);
            assert_eq!(posted.mail.state, MailState::Retry, "{posted:?}");
            pauses.push(posted.mail.due_at.duration_since(club.clock.now()).as_mins());
            club.clock.set(posted.mail.due_at);
        }
        assert_eq!(pauses, [1, 5, 15, 60, 60, 60, 60]);
    });
}
