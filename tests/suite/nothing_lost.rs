//! What somebody has to be told is not lost with the mail that was to tell it: a relay that is away for days,
//! a mailbox that does not exist, a mail of which nobody knows whether it arrived.

use domain::mail::{MailKind, MailState};
use jiff::SignedDuration;
use serde_json::{Value, json};

use crate::support::{Club, DAY, Kit, Person, SmtpServer, on_both};

const HOUR: SignedDuration = SignedDuration::from_hours(1);

fn states(club: &Club, to: &Person, kind: MailKind) -> Vec<MailState> {
    let mut outbox = club.outbox();
    outbox.retain(|one| one.mail.kind == kind && one.mail.recipient == to.id());
    outbox.into_iter().map(|one| one.mail.state).collect()
}

fn start(database: &store::testing::Fresh, relay: &SmtpServer) -> Club {
    Club::start_at(database, "2027-03-01T09:00:00Z".parse().unwrap(), Some(&relay.url))
}

fn shoot(club: &Club, archer: &Person, kit: &Kit) {
    let log = json!({"bow_id": kit.bow, "at": club.now(), "shots": 510});
    archer.post("/shot-logs", &log).expect(201);
}

fn to<'a>(mails: &'a [Value], address: &str) -> Vec<&'a Value> {
    let theirs = |mail: &&Value| mail["to"][0].as_str().is_some_and(|to| to.contains(address));
    mails.iter().filter(theirs).collect()
}

#[test]
fn what_came_due_while_a_relay_was_away_for_days_is_told_when_it_is_back() {
    on_both(|database| {
        let mut relay = SmtpServer::start("421-at-connect");
        let club = start(database, &relay);
        let archer = club.archer("Ada Invented");
        let kits = [(); 2].map(|()| Kit::of(&club, club.owner(), Some(archer.id())));
        shoot(&club, &archer, &kits[0]);
        let fire = json!({"bow_id": kits[1].bow, "kind": "dry_fire", "at": club.now()});
        archer.post("/incidents", &fire).expect(201);
        for hour in 0..80 {
            if hour == 40 {
                // It joins the digest that waits, and that one is given up.
                shoot(&club, &archer, &kits[1]);
            }
            club.run_round();
            club.clock.advance(HOUR);
        }
        let stops = states(&club, &archer, MailKind::Stop);
        assert_eq!(stops[0], MailState::Dead, "{stops:?}");
        assert!(stops.len() == 2, "raised again once in two days: {stops:?}");
        assert!(relay.mails().is_empty());
        relay.turn_to("accept");
        for _ in 0..48 {
            club.run_round();
            club.clock.advance(HOUR);
        }
        let mails = relay.mails();
        let told = to(&mails, "ada.invented@");
        let about = |words: &str| {
            told.iter().filter(|mail| mail["subject"].as_str().unwrap().contains(words)).count()
        };
        assert_eq!(about("DO NOT SHOOT Grey recurve: dry fire"), 1, "{told:#?}");
        let waxes =
            |mail: &&Value| mail["text"].as_str().unwrap().matches("Wax the string").count();
        assert_eq!(told.iter().map(waxes).max(), Some(2), "{told:#?}");
    });
}

#[test]
fn a_member_without_a_mailbox_gets_no_row_a_minute_and_is_told_once_there_is_one() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        database.execute(
            "UPDATE members SET email_refused_at = created_at, email_refusal = '550 5.1.1 no'
             WHERE name = 'Ada Invented'",
        );
        let fire = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": club.now()});
        archer.post("/incidents", &fire).expect(201);
        for _ in 0..10 {
            club.clock.advance(SignedDuration::from_mins(1));
            club.sweep();
        }
        assert_eq!(states(&club, &archer, MailKind::Stop), []);
        assert_eq!(states(&club, club.owner(), MailKind::Stop), [MailState::Sent]);
        let path = format!("/members/{}", archer.id().0);
        let read = club.owner().get(&path);
        let mended = json!({"email": "ada@home.example"});
        club.owner().patch(&path, read.header("etag"), &mended).expect(200);
        club.sweep();
        assert_eq!(states(&club, &archer, MailKind::Stop), [MailState::Sent]);
        assert_eq!(to(&club.mails(), "ada@home.example").len(), 1);
    });
}

#[test]
fn who_may_have_read_of_a_day_is_told_that_it_is_another() {
    on_both(|database| {
        let mut relay = SmtpServer::start("drop-after-data");
        let club = start(database, &relay);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let event = club.event("Invented Round", "2027-03-20", &[(&archer, &kit.bow)]);
        club.run_round();
        club.clock.advance(DAY);
        for _ in 0..3 {
            // A relay that leaves one mail in doubt ends the round.
            club.run_round();
        }
        assert_eq!(states(&club, &archer, MailKind::Event), [MailState::Uncertain]);
        let path = format!("/events/{}", event.0);
        let read = club.owner().get(&path);
        let moved = json!({"starts_on": "2027-03-27", "ends_on": "2027-03-28"});
        club.owner().patch(&path, read.header("etag"), &moved).expect(200);
        relay.turn_to("accept");
        club.run_round();
        assert_eq!(states(&club, &archer, MailKind::Moved), [MailState::Sent]);
    });
}

#[test]
fn the_second_copy_of_a_mail_in_doubt_says_what_the_first_said() {
    on_both(|database| {
        let mut relay = SmtpServer::start("drop-after-data");
        let club = start(database, &relay);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        club.event("Invented Round", "2027-03-20", &[(&archer, &kit.bow)]);
        club.run_round();
        club.clock.advance(DAY);
        for _ in 0..3 {
            club.run_round();
        }
        relay.turn_to("accept");
        club.clock.advance(SignedDuration::from_mins(16));
        club.run_round();
        assert_eq!(states(&club, &archer, MailKind::Event), [MailState::Sent]);
        let mut mails = relay.mails();
        mails.retain(|mail| {
            mail["subject"].as_str().unwrap().starts_with("Invented Round")
                && mail["to"][0].as_str().unwrap().contains("ada.invented@")
        });
        let [first, second] = mails.as_slice() else { panic!("{mails:#?}") };
        assert_eq!(first["message_id"], second["message_id"]);
        assert_eq!(first["text"], second["text"]);
    });
}

#[test]
fn a_digest_that_comes_a_day_late_says_the_day_and_none_other_comes_on_it() {
    on_both(|database| {
        let mut relay = SmtpServer::start("421-at-connect");
        let club = start(database, &relay);
        let archer = club.archer("Ada Invented");
        let kits = [(); 2].map(|()| Kit::of(&club, club.owner(), Some(archer.id())));
        shoot(&club, &archer, &kits[0]);
        club.run_round();
        club.clock.set("2027-03-02T08:00:00Z".parse().unwrap());
        club.run_round();
        assert_eq!(states(&club, &archer, MailKind::Digest), [MailState::Retry]);
        // Wednesday, before the time of the day's mail.
        club.clock.set("2027-03-03T07:10:00Z".parse().unwrap());
        relay.turn_to("accept");
        club.run_round();
        shoot(&club, &archer, &kits[1]);
        club.run_round();
        club.clock.set("2027-03-03T07:40:00Z".parse().unwrap());
        club.run_round();
        let digests = states(&club, &archer, MailKind::Digest);
        assert_eq!(digests, [MailState::Sent, MailState::Due], "one a day");
        let mails = relay.mails();
        let [mail] = to(&mails, "ada.invented@")[..] else { panic!("{mails:#?}") };
        assert!(mail["subject"].as_str().unwrap().ends_with("Wed 3 March"), "{mail:#}");
        club.clock.advance(DAY);
        club.run_round();
        assert_eq!(states(&club, &archer, MailKind::Digest), [MailState::Sent; 2]);
    });
}

#[test]
fn overdue_work_that_nobody_did_is_told_again_after_a_week_and_not_before() {
    on_both(|database| {
        let club = Club::start(database);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        Kit::measured(&archer, &kit.string, &club.now());
        shoot(&club, &archer, &kit);
        shoot(&club, &archer, &kit);
        let overdue = || {
            let mut found = 0;
            for mail in to(&club.mails(), "ada.invented@") {
                let text = mail["text"].as_str().unwrap();
                let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
                found += usize::from(text.contains("Wax the string, A new string: overdue"));
            }
            found
        };
        let mut told = Vec::new();
        for _ in 0..17 {
            club.sweep();
            club.clock.advance(DAY);
            club.sweep();
            told.push(overdue());
        }
        // Raised on 1 March, read on the 2nd; again a week later, and the week after.
        assert_eq!((told[0], told[6], told[7], told[13], told[14]), (1, 1, 2, 2, 3), "{told:?}");
    });
}

#[test]
fn a_mail_that_is_late_waits_for_the_end_of_quiet_hours_and_one_about_safety_does_not() {
    on_both(|database| {
        let mut relay = SmtpServer::start("421-at-connect");
        let club = start(database, &relay);
        let archer = club.archer("Ada Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        shoot(&club, &archer, &kit);
        club.run_round();
        club.clock.set("2027-03-02T20:55:00Z".parse().unwrap());
        club.run_round();
        relay.turn_to("accept");
        let fire = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": club.now()});
        archer.post("/incidents", &fire).expect(201);
        club.clock.set("2027-03-02T23:20:00Z".parse().unwrap());
        club.run_round();
        assert_eq!(states(&club, &archer, MailKind::Stop), [MailState::Sent]);
        assert_eq!(states(&club, &archer, MailKind::Digest), [MailState::Retry]);
        club.clock.set("2027-03-03T06:59:00Z".parse().unwrap());
        club.run_round();
        assert_eq!(states(&club, &archer, MailKind::Digest), [MailState::Retry]);
        club.clock.set("2027-03-03T07:00:00Z".parse().unwrap());
        club.run_round();
        assert_eq!(states(&club, &archer, MailKind::Digest), [MailState::Sent]);
    });
}
