//! Recipients that a relay refuses: the others get the mail, and an address without a mailbox gets no
//! more until somebody sets one.

use std::time::Duration;

use domain::{
    mail::{MailKind, MailState},
    time::Clock,
};
use jiff::SignedDuration;
use serde_json::{Value, json};

use super::{arrivals, club_at, invite, invite_again, last_to, words};
use crate::support::{Club, Kit, SmtpServer, on_both};

const AMPLE: Duration = Duration::from_secs(20);

fn recipients(relay: &SmtpServer) -> Vec<Value> {
    relay.envelopes().iter().map(|envelope| envelope["rcpt_tos"].clone()).collect()
}

#[test]
fn a_guardian_without_a_mailbox_keeps_nobody_else_from_the_mail() {
    on_both(|database| {
        let relay = SmtpServer::start("550-at-second-rcpt");
        let club = club_at(database, &relay.url, AMPLE);
        let member = invite(&club, "Ada Invented", Some("Gus Invented"));
        club.run_round();
        let sent = last_to(&club, &member);
        assert_eq!(sent.mail.state, MailState::Sent);
        let said = words(&sent);
        assert!(said.contains("not for gus.invented@club.example: 550 5.1.1"), "{said}");
        assert_eq!(recipients(&relay), [json!(["ada.invented@club.example"])]);
        // It is not their address that is wrong.
        let read = club.owner().get(&format!("/members/{}", member.id)).expect(200);
        assert_eq!(read["email_refused"], Value::Null);
    });
}

#[test]
fn a_minor_without_a_mailbox_is_marked_and_the_guardian_still_reads() {
    on_both(|database| {
        let mut relay = SmtpServer::start("550-at-first-rcpt");
        let club = club_at(database, &relay.url, AMPLE);
        let member = invite(&club, "Ada Invented", Some("Gus Invented"));
        club.run_round();
        let sent = last_to(&club, &member);
        assert_eq!(sent.mail.state, MailState::Sent);
        assert!(words(&sent).contains("not for ada.invented@club.example: 550 5.1.1"));
        relay.turn_to("accept");
        invite_again(&club, &member);
        club.run_round();
        assert_eq!(last_to(&club, &member).mail.state, MailState::Sent);
        assert_eq!(recipients(&relay), vec![json!(["gus.invented@club.example"]); 2]);
    });
}

#[test]
fn a_recipient_who_is_refused_for_now_is_waited_for_and_then_does_without() {
    on_both(|database| {
        let mut relay = SmtpServer::start("450-at-second-rcpt");
        let club = club_at(database, &relay.url, AMPLE);
        let [patient, lucky] =
            ["Ada Invented", "Ben Invented"].map(|name| invite(&club, name, Some("Gus Invented")));
        club.run_round();
        for member in [&patient, &lucky] {
            let posted = last_to(&club, member);
            assert_eq!(posted.mail.state, MailState::Retry);
            let said = words(&posted);
            assert!(said.contains("RCPT TO: gus.invented@club.example: 450 4.2.1"), "{said}");
        }
        for pause in [1, 5, 15] {
            club.clock.advance(SignedDuration::from_mins(pause));
            assert!(relay.mails().is_empty());
            club.run_round();
        }
        let sent = last_to(&club, &patient);
        assert_eq!((sent.mail.state, sent.mail.attempt), (MailState::Sent, 4), "{sent:?}");
        assert!(words(&sent).contains("not for gus.invented@club.example: 450"));
        assert_eq!(arrivals(&relay, &sent), 1);
        relay.turn_to("accept");
        let third = invite(&club, "Cleo Invented", Some("Gus Invented"));
        club.run_round();
        assert_eq!(last_to(&club, &third).mail.state, MailState::Sent);
        assert_eq!(relay.envelopes()[2]["rcpt_tos"].as_array().unwrap().len(), 2);
    });
}

/// A member whose address a relay said does not exist.
fn refused(club: &Club, relay: &mut SmtpServer) -> (domain::members::Member, String) {
    relay.turn_to("550-at-rcpt");
    let member = invite(club, "Ada Invented", None);
    club.run_round();
    assert_eq!(last_to(club, &member).mail.state, MailState::Dead);
    relay.turn_to("accept");
    let path = format!("/members/{}", member.id);
    (member, path)
}

#[test]
fn an_address_without_a_mailbox_is_shown_and_gets_no_more_mail_until_it_is_set_anew() {
    on_both(|database| {
        let mut relay = SmtpServer::start("accept");
        let club = club_at(database, &relay.url, AMPLE);
        let (member, path) = refused(&club, &mut relay);
        let answer = club.owner().get(&path);
        let expected = json!({"at": club.clock.now(), "answer": "550 5.1.1 no such mailbox"});
        assert_eq!(answer.expect(200)["email_refused"], expected);
        let listed = club.owner().get("/members").expect(200);
        let of_list = listed["data"].as_array().unwrap().iter();
        let marks: Vec<&Value> = of_list.map(|one| &one["email_refused"]).collect();
        assert_eq!(marks, [&Value::Null, &expected]);
        invite_again(&club, &member);
        club.run_round();
        let held = last_to(&club, &member);
        assert_eq!(held.mail.state, MailState::Cancelled);
        assert!(words(&held).starts_with("a relay said that there is no mailbox"), "{held:?}");

        // Another name says nothing of the address; the address itself does, and invites them there.
        let named = json!({"name": "Ada Renamed"});
        let changed = club.owner().patch(&path, answer.header("etag"), &named);
        assert_eq!(changed.expect(200)["email_refused"], expected);
        let moved = json!({"email": "ada@home.example"});
        let changed = club.owner().patch(&path, changed.header("etag"), &moved);
        assert_eq!(changed.expect(200)["email_refused"], Value::Null);
        club.run_round();
        assert_eq!(last_to(&club, &member).mail.state, MailState::Sent);
        assert_eq!(recipients(&relay), [json!(["ada@home.example"])]);
    });
}

#[test]
fn whoever_sets_the_same_address_says_that_mail_reaches_them_there() {
    on_both(|database| {
        let mut relay = SmtpServer::start("accept");
        let club = club_at(database, &relay.url, AMPLE);
        let (member, path) = refused(&club, &mut relay);
        let read = club.owner().get(&path);
        let same = json!({"email": member.email.as_str()});
        let changed = club.owner().patch(&path, read.header("etag"), &same).expect(200);
        assert_eq!(changed["email_refused"], Value::Null);
        invite_again(&club, &member);
        club.run_round();
        assert_eq!(last_to(&club, &member).mail.state, MailState::Sent);
    });
}

#[test]
fn a_notice_about_safety_that_cannot_go_is_for_others_to_tell() {
    on_both(|database| {
        let mut relay = SmtpServer::start("550-at-rcpt");
        let club = club_at(database, &relay.url, AMPLE);
        let archer = club.archer("Ben Invented");
        let kit = Kit::of(&club, club.owner(), Some(archer.id()));
        let stop = || {
            let fire = json!({"bow_id": kit.bow, "kind": "dry_fire", "at": club.now()});
            archer.post("/incidents", &fire).expect(201);
            club.run_round();
            let mut mails = club.outbox();
            mails
                .retain(|one| one.mail.kind == MailKind::Stop && one.mail.recipient == archer.id());
            mails
        };
        let first = stop();
        assert_eq!((first.len(), first[0].mail.state), (1, MailState::Dead), "{first:?}");
        relay.turn_to("accept");
        let path = format!("/members/{}", club.owner().id().0);
        let read = club.owner().get(&path);
        let same = json!({"email": read.json()["email"]});
        club.owner().patch(&path, read.header("etag"), &same).expect(200);
        club.clock.advance(SignedDuration::from_mins(5));
        assert_eq!(stop().len(), 1, "no second row for a mailbox that is not there");
        let mails = relay.mails();
        let [told] = mails.as_slice() else { panic!("{mails:#?}") };
        let text = told["text"].as_str().unwrap();
        assert!(text.contains("No mail reaches Ben Invented: tell them in person, now."), "{text}");
    });
}
