//! A relay whose certificate does not hold hears no mail, and none is lost by it: the program itself, with
//! what it trusts set by the test.

use domain::{mail::MailState, members::Member, time::Clock};
use jiff::{SignedDuration, Timestamp};
use store::testing::Fresh;

use super::{arrivals, invite, last_to, words};
use crate::{
    program::{SECRET, setting},
    support::{Certificate, Club, Program, Scratch, SmtpServer, on_both},
};

#[expect(clippy::disallowed_methods, reason = "the program under test has the machine's clock")]
fn machine_now() -> Timestamp {
    Timestamp::now()
}

/// One round of `tautline work` against a relay, trusting the certificate in that file alone.
fn work_once(database: &Fresh, url: &str, trusted: &str) {
    let database = setting(database);
    let settings = [
        ("TAUTLINE_DATABASE_URL", &*database),
        ("TAUTLINE_SMTP_URL", url),
        ("TAUTLINE_MAIL_FROM", "bench@tautline.example"),
        ("TAUTLINE_SECRET", SECRET),
        ("SSL_CERT_FILE", trusted),
    ];
    let ended = Program::run(Scratch::new().path(), &settings, &["work", "--once"]);
    assert_eq!(ended.code, Some(0), "{ended:?}");
}

fn url(scheme: &str, relay: &SmtpServer) -> String {
    format!("{scheme}://localhost:{}", relay.port())
}

/// Checks that a mail waits, by the words of its last try.
fn waits(club: &Club, member: &Member, said: &str) {
    let posted = last_to(club, member);
    assert_eq!(posted.mail.state, MailState::Retry, "{posted:?}");
    assert!(words(&posted).contains(said), "{said:?} is not in {:?}", words(&posted));
    let pause = posted.mail.due_at.duration_since(posted.tried_at.unwrap());
    // The try itself takes a moment.
    assert!(
        pause >= SignedDuration::from_mins(1) && pause < SignedDuration::from_mins(2),
        "{pause}"
    );
    println!("{}", words(&posted));
}

#[test]
fn a_certificate_that_does_not_hold_keeps_mail_waiting_and_a_good_one_lets_it_go() {
    on_both(|database| {
        let club = Club::start_at(database, machine_now() - SignedDuration::from_mins(10), None);
        let (good, other) = (Certificate::of("localhost"), Certificate::of("elsewhere.example"));
        let expired = Certificate::expired("localhost");
        let last = good.shown_by("accept", "starttls");
        let mut members = Vec::new();
        for (tls, scheme) in [("starttls", "smtp+starttls"), ("implicit", "smtps")] {
            for (shown, trusted, said) in [
                (&expired, &expired, "certificate expired"),
                (&other, &other, "certificate not valid for name"),
                (&other, &good, "UnknownIssuer"),
            ] {
                let relay = shown.shown_by("accept", tls);
                let member = invite(&club, &format!("Invented Archer {}", members.len()), None);
                work_once(database, &url(scheme, &relay), &trusted.pem());
                waits(&club, &member, said);
                assert!(relay.mails().is_empty());
                members.push(member);
                club.clock.advance(SignedDuration::from_secs(1));
            }
        }
        let broken = SmtpServer::start("broken-starttls");
        let member = invite(&club, "Invented Archer 6", None);
        work_once(database, &url("smtp+starttls", &broken), &good.pem());
        waits(&club, &member, "STARTTLS: ");
        assert!(broken.mails().is_empty());
        members.push(member);

        database.execute("UPDATE outbox SET due_at = wanted_at WHERE state = 'retry'");
        work_once(database, &url("smtp+starttls", &last), &good.pem());
        for member in &members {
            let sent = last_to(&club, member);
            assert_eq!(sent.mail.state, MailState::Sent, "{sent:?}");
            assert_eq!(arrivals(&last, &sent), 1);
        }
        assert!(club.clock.now() < machine_now());
    });
}
