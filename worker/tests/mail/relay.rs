//! What becomes of a message at a relay that answers, refuses, hangs or breaks off. Reply codes
//! are those of RFC 5321, section 4.2.3, and RFC 4954, section 6.

use std::time::Duration;

use domain::members::EmailAddress;
use tokio::net::TcpListener;
use worker::mail::{AT_ONCE, Partly, Receipt, Refusal, SendError, Transport};

use crate::{
    fake_relay::{
        At,
        Does::{self, Hangs, HangsUp, Says},
        FakeRelay,
    },
    letters::{letter, message},
};

/// Long enough for a talk on this machine.
const AMPLE: Duration = Duration::from_secs(20);
/// Short enough to wait for.
const SHORT: Duration = Duration::from_millis(300);

/// Enough for a talk up to its last step on a busy machine.
const PATIENT: Duration = Duration::from_secs(3);

async fn send_within(url: &str, limit: Duration) -> Result<Receipt, SendError> {
    let transport = Transport::smtp_within(url, limit).unwrap();
    let message = message(&letter(), "Invented Archers", "Ada Example").unwrap();
    transport.send(&message, "unused", Partly::Wait).await
}

/// Sends a message to a relay that is odd at one place, and tells what was made of it and whether
/// the relay heard the message.
async fn sent_to(
    odd: &'static [(At, Does)],
    limit: Duration,
) -> (Result<Receipt, SendError>, bool) {
    let relay = FakeRelay::start(1, odd).await;
    let outcome = send_within(&relay.url(), limit).await;
    let heard = relay.heard().await;
    (outcome, heard.iter().any(|line| line.starts_with("Message-ID: ")))
}

#[track_caller]
fn assert_retry(outcome: Result<Receipt, SendError>, words: &str) {
    match outcome {
        Err(SendError::Retry(said)) if said.contains(words) => {}
        other => panic!("expected to retry because of {words:?}, got {other:?}"),
    }
}

#[track_caller]
fn assert_unreachable(outcome: Result<Receipt, SendError>, words: &str) {
    match outcome {
        Err(SendError::Unreachable(said)) if said.contains(words) => {}
        other => panic!("expected the relay to be unreachable by {words:?}, got {other:?}"),
    }
}

#[tokio::test]
async fn a_relay_takes_a_message_whole_and_its_answer_is_kept() {
    let relay = FakeRelay::start(1, &[]).await;
    let receipt = send_within(&relay.url(), AMPLE).await.unwrap();
    assert_eq!(receipt.answer, "250 2.0.0 taken as A1");
    let heard = relay.heard().await;
    let has = |line: &str| heard.iter().any(|heard| heard == line);
    assert!(has("MAIL FROM:<club@example.org>") && has("RCPT TO:<ada@example.org>"), "{heard:?}");
    assert!(has("Auto-Submitted: auto-generated"));
    // RFC 5321, section 4.5.2: a dot at the start of a line is doubled.
    assert!(has("..") && has("...two dots") && has("wax the string"), "{heard:?}");
    assert_eq!(heard.last().unwrap(), "QUIT");
}

#[tokio::test]
async fn a_4xx_answer_about_the_message_means_try_again() {
    for (odd, step) in [
        (&[(At::Mail, Says("451 4.3.0 later"))], "MAIL FROM: 451"),
        (&[(At::Data, Says("452 4.3.1 full"))], "DATA: 452"),
        (&[(At::Dot, Says("451 4.3.0 later"))], "after the message: 451"),
    ] as [(&'static [_], _); _]
    {
        assert_retry(sent_to(odd, AMPLE).await.0, step);
    }
}

#[tokio::test]
async fn a_5xx_answer_about_the_message_is_final() {
    for (odd, words) in [
        (&[(At::Mail, Says("553 5.1.8 who?"))], "MAIL FROM: 553 5.1.8 who?"),
        (&[(At::Data, Says("554 5.5.1 no"))], "DATA: 554 5.5.1 no"),
        (&[(At::Dot, Says("554 5.7.1 spam"))], "after the message: 554 5.7.1 spam"),
        (
            &[(At::Dot, Says("552-5.3.4 too\r\n552 5.3.4 big"))],
            "after the message: 552 5.3.4 too big",
        ),
    ] as [(&'static [_], _); _]
    {
        let outcome = sent_to(odd, AMPLE).await.0;
        assert_eq!(outcome, Err(SendError::Dead(words.to_owned())));
    }
}

#[tokio::test]
async fn a_refused_recipient_is_named_with_what_the_relay_made_of_them() {
    for (answer, for_good, no_mailbox) in [
        ("451 4.7.1 greylisted", false, false),
        ("550 5.1.1 no such mailbox", true, true),
        ("550 5.7.1 not for you", true, false),
    ] {
        let odd: &'static [_] = Vec::leak(vec![(At::Rcpt, Says(answer))]);
        let (address, answer) = ("ada@example.org".to_owned(), answer.to_owned());
        let words = format!("RCPT TO: {answer}");
        let recipients = vec![Refusal { address, answer, for_good, no_mailbox }];
        let outcome = sent_to(odd, AMPLE).await.0;
        assert_eq!(outcome, Err(SendError::Refused { words, recipients }));
    }
}

#[tokio::test]
async fn what_is_wrong_with_the_relay_is_told_apart_from_what_is_wrong_with_a_message() {
    for (odd, words) in [
        (&[(At::Greeting, Says("421 4.3.2 shutting down"))], "connecting: 421"),
        (&[(At::Greeting, Says("554 5.3.2 no service here"))], "connecting: 554"),
        (&[(At::Greeting, Says("gibberish"))], "connecting: "),
        (&[(At::Ehlo, Says("421 4.3.2 shutting down"))], "connecting: 421"),
        (&[(At::Ehlo, Says("550 5.7.1 who are you?"))], "connecting: 550"),
        (&[(At::Mail, Says("530 5.7.0 sign in first"))], "MAIL FROM: 530"),
        (&[(At::Mail, Says("421 4.3.2 shutting down"))], "MAIL FROM: 421"),
        (&[(At::Rcpt, Says("421 4.3.2 shutting down"))], "RCPT TO: 421"),
        (&[(At::Rcpt, Says("530 5.7.0 sign in first"))], "RCPT TO: 530"),
        (&[(At::Data, Says("421 4.3.2 shutting down"))], "DATA: 421"),
        (&[(At::Dot, Says("421 4.3.2 shutting down"))], "after the message: 421"),
    ] as [(&'static [_], _); _]
    {
        assert_unreachable(sent_to(odd, AMPLE).await.0, words);
    }
    for answer in ["535 5.7.8 wrong password", "454 4.7.0 cannot look now"] {
        let odd: &'static [_] = Vec::leak(vec![(At::Auth, Says(answer))]);
        let relay = FakeRelay::start(1, odd).await;
        let url = relay.url().replace("smtp://", "smtp://ada%40example.org:hush-hush@");
        let outcome = send_within(&url, AMPLE).await;
        assert!(!format!("{outcome:?}").contains("hush-hush"));
        assert_unreachable(outcome, &format!("AUTH: {answer}"));
        assert!(!relay.heard().await.iter().any(|line| line.starts_with("MAIL")));
    }
}

#[tokio::test]
async fn notices_of_failure_go_where_they_are_asked_to() {
    let relay = FakeRelay::start(1, &[]).await;
    let address = EmailAddress::parse("bounces@example.org").unwrap();
    let transport = Transport::smtp_within(&relay.url(), AMPLE).unwrap();
    let transport = transport.returning_to(&address).unwrap();
    let message = message(&letter(), "Invented Archers", "Ada Example").unwrap();
    transport.send(&message, "unused", Partly::Wait).await.unwrap();
    let heard = relay.heard().await;
    assert!(heard.iter().any(|line| line == "MAIL FROM:<bounces@example.org>"), "{heard:?}");
    let from = heard.iter().find(|line| line.starts_with("From:")).unwrap();
    assert!(from.contains("<club@example.org>"), "{from}");
}

#[tokio::test]
async fn user_and_password_reach_the_relay() {
    let relay = FakeRelay::start(1, &[]).await;
    let url = relay.url().replace("smtp://", "smtp://ada%40example.org:p%3Aw@");
    send_within(&url, AMPLE).await.unwrap();
    // RFC 4616: NUL, user, NUL, password, in base64.
    let auth = "AUTH PLAIN AGFkYUBleGFtcGxlLm9yZwBwOnc=";
    assert!(relay.heard().await.iter().any(|line| line == auth));
}

#[tokio::test]
async fn a_talk_that_ends_before_the_message_is_tried_again() {
    for at in [At::Greeting, At::Ehlo, At::Mail, At::Rcpt, At::Data] {
        for does in [Hangs, HangsUp] {
            let odd: &'static [_] = Vec::leak(vec![(at, does)]);
            let limit = if matches!(does, Hangs) { SHORT } else { AMPLE };
            let (outcome, heard) = sent_to(odd, limit).await;
            let unreachable = matches!(outcome, Err(SendError::Unreachable(_)));
            assert!(unreachable, "{at:?} {does:?}: {outcome:?}");
            assert!(!heard);
        }
    }
}

#[tokio::test]
async fn a_talk_that_ends_after_the_message_is_uncertain() {
    for (odd, limit) in [
        (&[(At::Dot, HangsUp)], AMPLE),
        (&[(At::Dot, Hangs)], PATIENT),
        (&[(At::Dot, Says("gibberish"))], AMPLE),
        (&[(At::Dot, Says("354 go on"))], AMPLE),
    ] as [(&'static [_], _); _]
    {
        let (outcome, heard) = sent_to(odd, limit).await;
        assert!(matches!(outcome, Err(SendError::Uncertain(_))), "{odd:?}: {outcome:?}");
        assert!(heard);
    }
}

#[tokio::test]
async fn an_answer_out_of_place_stops_the_talk_before_the_message() {
    let odd: [&'static [_]; 3] = [
        &[(At::Mail, Says("354 go on"))],
        &[(At::Rcpt, Says("354 go on"))],
        &[(At::Data, Says("250 ok"))],
    ];
    for odd in odd {
        let (outcome, heard) = sent_to(odd, AMPLE).await;
        assert_retry(outcome, "unexpected answer");
        assert!(!heard);
    }
}

#[tokio::test]
async fn what_follows_the_answer_cannot_take_it_back() {
    for odd in [&[(At::Quit, HangsUp)], &[(At::Quit, Says("500 what?"))], &[(At::Quit, Hangs)]]
        as [&'static [_]; _]
    {
        assert!(sent_to(odd, AMPLE).await.0.is_ok(), "{odd:?}");
    }
}

#[tokio::test]
async fn a_refused_connection_is_tried_again() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    drop(listener);
    assert_unreachable(send_within(&format!("smtp://{address}"), AMPLE).await, "connecting: ");
}

#[tokio::test]
async fn without_starttls_nothing_is_said_in_clear_text() {
    for odd in [&[], &[(At::Ehlo, Says("250-relay.example\r\n250 STARTTLS"))]] as [&'static [_]; _]
    {
        let relay = FakeRelay::start(1, odd).await;
        let url = relay.url().replace("smtp://", "smtp+starttls://ada:hush-hush@");
        assert_unreachable(send_within(&url, AMPLE).await, "STARTTLS: ");
        for line in relay.heard().await {
            assert!(["EHLO", "STARTTLS", "QUIT"].iter().any(|ok| line.starts_with(ok)), "{line}");
        }
    }
}

#[tokio::test]
async fn what_a_relay_says_is_kept_on_one_short_line() {
    let shout = format!("550 5.7.1 \u{1b}[2J{}", "no".repeat(400));
    let odd: &'static [_] = Vec::leak(vec![(At::Rcpt, Says(String::leak(shout)))]);
    let Err(SendError::Refused { words: said, .. }) = sent_to(odd, AMPLE).await.0 else {
        panic!("not refused")
    };
    assert_eq!(said.chars().count(), 500);
    assert!(said.starts_with(r"RCPT TO: 550 5.7.1 \u{1b}[2Jno"), "{said}");
}

#[tokio::test]
async fn no_more_than_four_messages_are_on_their_way_at_once() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let url = format!("smtp://{}", listener.local_addr().unwrap());
    let transport = Transport::smtp_within(&url, AMPLE).unwrap();
    let message = message(&letter(), "Invented Archers", "Ada Example").unwrap();
    let all = async {
        let sends = (0..=AT_ONCE).map(|_| transport.send(&message, "unused", Partly::Wait));
        let mut sends: Vec<_> = sends.map(Box::pin).collect();
        std::future::poll_fn(|context| {
            for send in &mut sends {
                assert!(send.as_mut().poll(context).is_pending());
            }
            std::task::Poll::<()>::Pending
        })
        .await;
    };
    let count = async {
        let mut open = Vec::new();
        for _ in 0..AT_ONCE {
            open.push(listener.accept().await.unwrap());
        }
        assert!(tokio::time::timeout(SHORT, listener.accept()).await.is_err(), "a fifth talk");
    };
    tokio::select! { () = all => {}, () = count => {} }
}
