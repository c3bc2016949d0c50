//! Programs of mail providers open every link in a mail before anybody reads it: whatever they open, as often
//! as they like, changes nothing.

use std::collections::BTreeSet;

use domain::mail::{MailKind, MailState};
use jiff::{SignedDuration, civil::date};
use serde_json::json;

use crate::support::{
    Browser, Club, Kit, Neglected, Person, everything, links_in, on_both, unchanged, until,
};

/// A round of the worker.
fn later(club: &Club, hours: i64) {
    club.clock.advance(SignedDuration::from_hours(hours));
    club.sweep();
}

/// Has a mail of every kind go out.
fn mail_of_every_kind(club: &Club) {
    let owner = club.owner();
    let (archer, coach) = (club.archer("Ada Invented"), club.coach("Cleo Invented"));
    let squad = json!({"name": "Thursdays", "coach_member_ids": [coach.id().0],
        "archer_member_ids": [archer.id().0]});
    owner.post("/squads", &squad).expect(201);
    owner.patch("/club", "*", &json!({"nudge_after_days": 7})).expect(200);
    let invited = json!({"name": "Odo Invented", "email": "odo@home.example", "role": "archer"});
    owner.post("/members", &invited).expect(201);
    club.anonymous()
        .post("/auth/reset", &json!({"email": "ada.invented@club.example"}))
        .expect(202);
    // A bow that wants work, one that was shot and then was not, and one with what the bench has to do.
    Neglected::of(club, Some(archer.id()));
    shot_until_a_week_ago(club, &archer);
    worn_serving(club, &archer);
    let event = json!({"name": "Invented Round", "starts_on": "2027-03-20",
        "ends_on": "2027-03-21", "priority": "regular", "arrows_expected": 72});
    let event = owner.post("/events", &event).expect(201);
    let event = format!("/events/{}", event["id"].as_str().unwrap());
    let kit = Kit::of(club, owner, Some(archer.id()));
    let entries = json!({"entries": [{"member_id": archer.id().0, "bow_id": kit.bow}]});
    owner.put(&format!("{event}/entries"), "*", &entries).expect(200);
    club.sweep();
    later(club, 24);
    let moved = json!({"starts_on": "2027-03-27", "ends_on": "2027-03-28"});
    owner.patch(&event, "*", &moved).expect(200);
    let incident = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": club.now()});
    owner.post("/incidents", &incident).expect(201);
    let minor = club.archer("Mia Invented");
    let body = json!({"minor_until": "2029-01-01", "guardian": {"name": "Gus Invented",
        "email": "gus@home.example", "consented_on": "2027-01-01"}});
    owner.patch(&format!("/members/{}", minor.id()), "*", &body).expect(200);
    minor.patch("/me", "*", &json!({"stopped_mail": ["digest"]})).expect(200);
    // Until the next list for the bench.
    for _ in 0..8 {
        later(club, 24);
    }
    // A link to choose another password works for two hours: the first has run out by now.
    let before = club.outbox().len();
    club.anonymous()
        .post("/auth/reset", &json!({"email": "ada.invented@club.example"}))
        .expect(202);
    until("the link to be written", || (club.outbox().len() > before).then_some(()));
    club.sweep();
}

/// A bow of which nothing was logged for eight days, after three weeks of logs.
fn shot_until_a_week_ago(club: &Club, archer: &Person) {
    let kit = Kit::of(club, club.owner(), Some(archer.id()));
    for day in 1..=20 {
        let on = date(2027, 2, 1) + jiff::Span::new().days(day);
        let log = json!({"bow_id": kit.bow, "at": on.to_string(), "shots": 20});
        club.owner().post("/shot-logs", &log).expect(201);
    }
}

/// A bow whose serving is to be wound anew, by a rule of its own.
fn worn_serving(club: &Club, archer: &Person) {
    let kit = Kit::of(club, club.owner(), Some(archer.id()));
    let rule = json!({"part_kind": "center_serving", "task": "re_serve", "shots": {"plan": 100},
        "scope": {"of": "bow", "bow_id": kit.bow}});
    club.owner().post("/rules", &rule).expect(201);
    let log = json!({"bow_id": kit.bow, "at": club.now(), "shots": 101});
    club.owner().post("/shot-logs", &log).expect(201);
}

#[test]
fn every_link_in_every_kind_of_mail_may_be_opened_again_and_again() {
    on_both(|database| {
        let club = Club::start(database);
        mail_of_every_kind(&club);
        let went_out = |kind: MailKind| {
            let outbox = club.outbox();
            outbox.iter().any(|one| one.mail.kind == kind && one.mail.state == MailState::Sent)
        };
        let missing: Vec<_> = MailKind::ALL.iter().filter(|kind| !went_out(**kind)).collect();
        assert!(missing.is_empty(), "no mail of these kinds went out: {missing:?}");
        let links: BTreeSet<String> = club.mails().iter().flat_map(links_in).collect();
        for start in ["/act/", "/quiet/", "/invitations/", "/reset/", "/api/v1/invitations/"] {
            assert!(links.iter().any(|link| link.starts_with(start)), "{start}: {links:?}");
        }
        let (browser, before) = (Browser::of(&club), everything(database));
        let (mut opened, mut resets) = (0, BTreeSet::new());
        for link in &links {
            for method in ["GET", "HEAD", "GET", "HEAD", "GET", "HEAD"] {
                let answer = browser.ask(method, link, None);
                assert!(![429, 500, 503].contains(&answer.status), "{answer}");
                // A link of ours shows its page, also when it is opened again.
                let ours = ["/act/", "/quiet/", "/invitations/"];
                let ours = ours.iter().any(|start| link.starts_with(start));
                assert!(!ours || answer.status == 200, "{method} {link}: {answer}");
                if link.starts_with("/reset/") {
                    resets.insert(answer.status);
                }
                opened += 1;
                // Nobody is kept waiting for having opened too many.
                club.clock.advance(SignedDuration::from_secs(2));
            }
        }
        unchanged(database, &before, "opening links");
        assert_eq!(resets, BTreeSet::from([200, 410]), "one has run out, and one has not");
        println!("{} links opened {opened} times", links.len());
        // All of this would be in vain if the comparison saw nothing.
        let quiet = links.iter().find(|link| link.starts_with("/quiet/")).unwrap();
        browser.post(quiet, "action=stop").page(200);
        assert_ne!(everything(database), before);
    });
}
