//! The table of faults: for each, the state, the time of the next try and the words of the mail, and how
//! often it arrived once the relay took mail again.

use std::time::Duration;

use domain::{mail::MailState, time::Clock};
use jiff::SignedDuration;

use super::{arrivals, club_at, invite, last_to, words};
use crate::support::{Club, SmtpServer, on_both};

/// What a relay does, and what is to become of a mail by it.
struct Fault {
    /// A mode of `tests/tools/smtp_server.py`.
    mode: &'static str,
    state: MailState,
    /// In how many minutes it is tried again, if it is.
    again_min: Option<i64>,
    words: &'static str,
    /// How often it has arrived in the end.
    arrives: usize,
}

const fn again(mode: &'static str, words: &'static str) -> Fault {
    Fault { mode, state: MailState::Retry, again_min: Some(1), words, arrives: 1 }
}

const fn over(mode: &'static str, words: &'static str) -> Fault {
    Fault { mode, state: MailState::Dead, again_min: None, words, arrives: 0 }
}

const fn open(mode: &'static str, words: &'static str, arrives: usize) -> Fault {
    let (state, again_min) = (MailState::Uncertain, Some(15));
    Fault { mode, state, again_min, words, arrives }
}

const FAULTS: [Fault; 36] = [
    again("421-at-connect", "connecting: 421 4.3.2"),
    again("421-at-ehlo", "connecting: 421 4.3.2"),
    again("421-at-mail", "MAIL FROM: 421 4.3.2"),
    again("421-at-rcpt", "RCPT TO: 421 4.3.2"),
    again("421-at-data", "DATA: 421 4.3.2"),
    again("421-at-end", "after the message: 421 4.3.2"),
    again("554-at-connect", "connecting: 554 5.7.1"),
    again("garbage", "connecting: "),
    again("454-at-auth", "AUTH: 454 4.7.0"),
    again("535-at-auth", "AUTH: 535 5.7.8"),
    again("530-at-mail", "MAIL FROM: 530 5.7.0"),
    again("450-at-mail", "MAIL FROM: 450 4.2.1"),
    again("450-at-rcpt", "RCPT TO: 450 4.2.1"),
    again("450-at-end", "after the message: 450 4.2.1"),
    again("451-at-mail", "MAIL FROM: 451 4.3.0"),
    again("451-at-rcpt", "RCPT TO: 451 4.3.0"),
    again("451-at-end", "after the message: 451 4.3.0"),
    again("452-at-mail", "MAIL FROM: 452 4.3.1"),
    again("452-at-rcpt", "RCPT TO: 452 4.3.1"),
    again("452-at-end", "after the message: 452 4.3.1"),
    over("550-at-mail", "MAIL FROM: 550 5.1.1"),
    over("550-at-rcpt", "RCPT TO: 550 5.1.1"),
    over("550-at-end", "after the message: 550 5.1.1"),
    over("552-at-mail", "MAIL FROM: 552 5.3.4"),
    over("552-at-rcpt", "RCPT TO: 552 5.3.4"),
    over("552-at-end", "after the message: 552 5.3.4"),
    over("554-at-rcpt", "RCPT TO: 554 5.7.1"),
    over("554-at-end", "after the message: 554 5.7.1"),
    again("hang-at-connect", "connecting: no answer within 1.5 s"),
    again("hang-at-ehlo", "connecting: no answer within 1.5 s"),
    again("hang-at-mail", "MAIL FROM: no answer within 1.5 s"),
    again("hang-at-rcpt", "RCPT TO: no answer within 1.5 s"),
    again("hang-at-data", "DATA: no answer within 1.5 s"),
    again("drop-at-data", "DATA: "),
    open("hang-at-end", "after the message: no answer within 1.5 s", 1),
    open("drop-after-data", "after the message: ", 2),
];

/// What became of a mail by a fault, as one line.
fn suffer(club: &Club, relay: &mut SmtpServer, number: usize, fault: &Fault) -> String {
    let member = invite(club, &format!("Invented Archer {number}"), None);
    relay.turn_to(fault.mode);
    club.run_round();
    let hit = last_to(club, &member);
    let due_in = hit.mail.due_at.duration_since(club.clock.now());
    assert_eq!(hit.mail.state, fault.state, "{}: {}", fault.mode, words(&hit));
    assert!(words(&hit).contains(fault.words), "{}: {}", fault.mode, words(&hit));
    assert_eq!(hit.finished_at.is_some(), fault.again_min.is_none(), "{}", fault.mode);
    if let Some(minutes) = fault.again_min {
        assert_eq!(due_in, SignedDuration::from_mins(minutes), "{}", fault.mode);
    }
    relay.turn_to("accept");
    club.run_round();
    let early = last_to(club, &member);
    assert_eq!((early.mail.state, early.mail.attempt), (fault.state, 1), "{}", fault.mode);
    club.clock.advance(SignedDuration::from_mins(15));
    club.run_round();
    let last = last_to(club, &member);
    let in_the_end = if fault.again_min.is_some() { MailState::Sent } else { MailState::Dead };
    assert_eq!(last.mail.state, in_the_end, "{}: {}", fault.mode, words(&last));
    let arrived = arrivals(relay, &last);
    assert_eq!(arrived, fault.arrives, "{}", fault.mode);
    let minutes = fault.again_min.map_or_else(|| "-".to_owned(), |min| format!("{min} min"));
    format!(
        "{:<16}  {:<9}  {minutes:<6}  {:<9}  {arrived}  {}",
        fault.mode,
        hit.mail.state,
        last.mail.state,
        words(&hit)
    )
}

#[test]
fn each_fault_leaves_a_mail_in_the_state_that_is_known_and_none_loses_one() {
    on_both(|database| {
        let mut relay = SmtpServer::start("accept");
        // Signed in, so that this can be refused too.
        let url = relay.url.replace("smtp://", "smtp://bench:hush-hush@");
        let club = club_at(database, &url, Duration::from_millis(1_500));
        let mut table = vec!["fault, state, next try, in the end, arrived, words".to_owned()];
        for (number, fault) in FAULTS.iter().enumerate() {
            table.push(suffer(&club, &mut relay, number, fault));
        }
        println!("{}", table.join("\n"));
        assert!(!table.join("\n").contains("hush-hush"));
        // Only an answer that the mailbox is not there says so, and only from RCPT.
        let refused = database.texts(
            "SELECT email AS text FROM members WHERE email_refused_at \
                                      IS NOT NULL ORDER BY 1",
        );
        assert_eq!(refused, ["invented.archer.21@club.example"]);
        assert_eq!(FAULTS[21].mode, "550-at-rcpt");
    });
}

#[test]
fn a_slow_relay_gets_its_time_and_the_mail_once() {
    on_both(|database| {
        let relay = SmtpServer::start("slow");
        let club = club_at(database, &relay.url, Duration::from_mins(1));
        let member = invite(&club, "Ada Invented", None);
        club.run_round();
        let sent = last_to(&club, &member);
        assert_eq!((sent.mail.state, sent.mail.attempt), (MailState::Sent, 1), "{}", words(&sent));
        assert_eq!(arrivals(&relay, &sent), 1);
    });
}

#[test]
fn a_relay_that_is_dead_is_asked_by_a_few_mails_and_not_by_all() {
    on_both(|database| {
        let mut relay = SmtpServer::start("421-at-connect");
        let club = club_at(database, &relay.url, Duration::from_secs(20));
        for number in 0..12 {
            invite(&club, &format!("Invented Archer {number}"), None);
        }
        let tried = || club.outbox().iter().filter(|posted| posted.mail.attempt > 0).count();
        club.run_round();
        assert_eq!(tried(), 4);
        club.run_round();
        assert_eq!(tried(), 8);
        relay.turn_to("accept");
        club.run_round();
        assert_eq!(relay.mails().len(), 4);
        club.clock.advance(SignedDuration::from_mins(1));
        club.run_round();
        assert_eq!(relay.mails().len(), 12);
        assert!(club.outbox().iter().all(|posted| posted.mail.state == MailState::Sent));
    });
}

#[test]
fn a_mail_that_one_relay_answer_holds_up_holds_up_no_other() {
    on_both(|database| {
        let relay = SmtpServer::start("451-at-rcpt");
        let club = club_at(database, &relay.url, Duration::from_secs(20));
        for number in 0..12 {
            invite(&club, &format!("Invented Archer {number}"), None);
        }
        club.run_round();
        assert!(club.outbox().iter().all(|posted| posted.mail.attempt == 1));
    });
}
